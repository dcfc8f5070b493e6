"""Say whether one part of the house is well: what the health checks of docker-compose.yml ask."""

import json
import socket
import time
import urllib.error
import urllib.request
from argparse import ArgumentParser
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from intake.celery import app

# beat writes its schedule every three minutes (Celery's own interval).
SCHEDULE_IS_OLD_AFTER_SECONDS = 10 * 60


class Command(BaseCommand):
    help = "Exit status 0 if the web server, worker or beat of this container is well; otherwise one sentence and 1."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("part", choices=("web", "worker", "beat"))
        parser.add_argument("--port", type=int, default=8000, help="web: the port it listens on (8000)")
        parser.add_argument("--name", default="worker", help="worker: its name before the @ (worker)")

    def handle(self, *args: Any, **options: Any) -> None:
        {"web": self.web, "worker": self.worker, "beat": self.beat}[options["part"]](options)
        self.stdout.write("well")

    def web(self, options: dict[str, Any]) -> None:
        site = urlsplit(settings.SITE_URL)
        # As the front server asks: by the site's own name, over TLS where the site insists on it.
        request = urllib.request.Request(
            f"http://127.0.0.1:{options['port']}/health/",
            headers={"Host": site.netloc, "X-Forwarded-Proto": site.scheme},
        )
        try:
            with _direct.open(request, timeout=10) as answer:
                told = json.load(answer)
        except (urllib.error.URLError, ConnectionError, TimeoutError, ValueError) as error:
            raise CommandError(f"The web server does not answer as it should: {error}") from error
        if told != {"status": "ok"}:
            raise CommandError(f"The web server says {told}.")

    def worker(self, options: dict[str, Any]) -> None:
        name = f"{options['name']}@{socket.gethostname()}"
        if not app.control.ping(destination=[name], timeout=10):
            raise CommandError(f"The worker {name} does not answer.")

    def beat(self, options: dict[str, Any]) -> None:
        schedule = Path(settings.CELERY_BEAT_SCHEDULE_FILENAME)
        # Depending on the machine's database library the file's name has an ending.
        written = [path.stat().st_mtime for path in schedule.parent.glob(f"{schedule.name}*")]
        if not written or time.time() - max(written) > SCHEDULE_IS_OLD_AFTER_SECONDS:
            raise CommandError("beat has not written its schedule for ten minutes.")


class _NoRedirects(urllib.request.HTTPRedirectHandler):
    """A redirect would lead away from this container."""

    def redirect_request(self, *args: Any, **kwargs: Any) -> None:
        return None


_direct = urllib.request.build_opener(urllib.request.ProxyHandler({}), _NoRedirects)
