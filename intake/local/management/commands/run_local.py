"""Run the whole site on this computer: `make demo` and `make start`."""

import os
import signal
import subprocess
import time
from argparse import ArgumentParser
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, TextIO

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import OperationalError, connection

from intake.library.models import Step
from intake.library.services import current, mail_leaves
from intake.local import commands, demo
from intake.local.certificates import Certificate, certificate_for, names_of_this_computer
from intake.local.coordinator import has_coordinator
from intake.local.house import AlreadyRunning, NotReady, empty, environment_for, house, only_one, wait_until_ready
from intake.local.network import lan_environment, on_the_network
from intake.local.ports import ADDRESS, EVERYWHERE, NoPortFree, free_port
from intake.local.processes import House
from intake.local.static_files import collect_if_changed


class Stopped(BaseException):
    """Ctrl-C, or another request to end: no error, and nothing that code in between may catch."""


class Command(BaseCommand):
    help = "Prepares the site, starts its web server, worker and clock, and stops them all on Ctrl-C."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--port", type=int, default=8000, help="the first port to try (8000)")
        parser.add_argument("--https", action="store_true", help="for phones and others on the local network")
        parser.add_argument("--reset", action="store_true", help="demo only: start over with fresh demo data")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["reset"] and not settings.DEMO:
            raise CommandError("Only the demo can be started over. Nothing was changed.")
        settings.VAR_DIR.mkdir(parents=True, exist_ok=True)
        try:
            with stopping_on_signals(), only_one(settings.VAR_DIR) as note:
                self.run(note, port=options["port"], reset=options["reset"], https=options["https"])
        except Stopped:
            self.say("Stopped. Everything is kept; the same command starts again.")
        except (AlreadyRunning, NoPortFree, NotReady) as error:
            raise CommandError(str(error)) from error

    def run(self, note: TextIO, *, port: int, reset: bool, https: bool) -> None:
        if reset:
            self.start_over("Taking the old demo away.")
        chosen = self.choose(port, EVERYWHERE if https else ADDRESS)
        names = names_of_this_computer()
        certificate = certificate_for(settings.VAR_DIR / "tls", names) if https else None
        url = f"https://{names[0]}:{chosen}/" if https else f"http://{ADDRESS}:{chosen}/"
        note.write(url)
        note.flush()
        more = lan_environment(certificate) if certificate else {}
        environment = environment_for(var_dir=settings.VAR_DIR, site_url=site_url(url), more=more)
        self.prepare(environment)
        connection.close()  # the children open their own
        folder = settings.BASE_DIR
        site = house(
            port=chosen,
            var_dir=settings.VAR_DIR,
            environment=environment,
            folder=folder,
            say=self.say,
            certificate=certificate,
        )
        self.keep_running(site, url, certificate)

    def choose(self, wanted: int, address: str) -> int:
        port = free_port(wanted, address)
        if port != wanted:
            self.say(f"Port {wanted} is taken by another program, so the site takes port {port}.")
        return port

    def start_over(self, why: str) -> None:
        self.say(why)
        connection.close()
        empty(settings.VAR_DIR)

    def prepare(self, environment: dict[str, str]) -> None:
        """The database, the static files, and what an empty site needs to be of use."""
        self.migrate()
        if collect_if_changed():
            self.say("Gathered style sheets and scripts.")
        if settings.DEMO:
            self.load_demo(environment)
        elif not has_coordinator():
            call_command("create_coordinator", stdout=self.stdout)

    def migrate(self) -> None:
        self.say("Preparing the database.")
        try:
            call_command("migrate", interactive=False, verbosity=0)
        except OperationalError as error:
            raise CommandError(f"The database cannot be reached: {error}") from error

    def load_demo(self, environment: dict[str, str]) -> None:
        if demo.is_half_loaded():
            self.start_over("The demo was interrupted while it was loading, so it starts over.")
            self.migrate()
        if demo.is_loaded():
            self.say("The demo data of last time is kept; `make demo RESET=1` starts over.")
            return
        # A process of its own, so that the addresses in papers and messages are those of the port chosen above.
        loading = subprocess.run(commands.manage("load_demo"), env=environment, cwd=settings.BASE_DIR, check=False)  # noqa: S603
        if loading.returncode:
            raise CommandError("The demo data could not be loaded; the reason stands above.")

    def keep_running(self, site: House, url: str, certificate: Certificate | None) -> None:
        """Start, tell, look after, until somebody ends it; whatever happens, nothing is left running."""
        self.say("Starting the web server, the worker and the clock.")
        try:
            site.start()
            wait_until_ready(site, url, authority=certificate.authority if certificate else None)
            self.say(self.welcome(url))
            connection.close()
            if certificate:
                self.say(on_the_network(url, certificate))
            while True:
                site.look_after()
                time.sleep(0.5)
        finally:
            self.stop(site)

    def stop(self, site: House) -> None:
        self.say("\nStopping the web server, the worker and the clock.")
        # Asked twice, it does not wait for work under way: the job rows know what was not finished.
        for number in SIGNALS:
            signal.signal(number, lambda *_: site.end_now())
        site.stop()

    def welcome(self, url: str) -> str:
        lines = ["", f"The site is ready: {url}", ""]
        lines += demo.sign_ins(url) if settings.DEMO else next_steps(url)
        where = shown(settings.VAR_DIR)
        return "\n".join(
            [
                *lines,
                *(
                    []
                    if mail_leaves()
                    else [f"No mail leaves this computer: messages are kept as files in {where}/mail."]
                ),
                f"What the processes say is kept in {where}/logs.",
                "The first recording takes some seconds longer to measure than the next ones.",
                "Press Ctrl-C to stop.",
            ]
        )

    def say(self, sentence: str) -> None:
        self.stdout.write(sentence)
        self.stdout.flush()


SIGNALS = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)


@contextmanager
def stopping_on_signals() -> Iterator[None]:
    """Ctrl-C, an ordered stop and a closed terminal all end the site in the same way."""

    def stop(number: int, frame: object) -> None:
        for other in SIGNALS:
            signal.signal(other, signal.SIG_IGN)  # a second one must not interrupt the stopping itself
        raise Stopped

    before = {number: signal.signal(number, stop) for number in SIGNALS}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def site_url(url: str) -> str:
    """The address in links: the one chosen now, unless a real site was given another."""
    given = "" if settings.DEMO else os.environ.get("SITE_URL", "")
    return (given or url).rstrip("/")


def next_steps(url: str) -> list[str]:
    """For a site of which nobody has said yet what library it is."""
    if Step.LIBRARY in current().settled:
        return []
    return [f"Sign in as the coordinator, and set the site up at {url}desk/set-up/", ""]


def shown(path: Path) -> Path:
    """A folder as people know it: from where they stand, if it lies there."""
    return path.relative_to(Path.cwd()) if path.is_relative_to(Path.cwd()) else path
