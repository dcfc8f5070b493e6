"""Get the site back from a backup: `make restore FROM=folder`."""

from argparse import ArgumentParser
from datetime import datetime
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from intake.errors import Refused
from intake.local.house import AlreadyRunning, only_one
from intake.local.restore import Restored, restore


class Command(BaseCommand):
    help = "Puts a backup into this empty site, after the whole backup has been read and compared with its list."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--from", required=True, type=Path, dest="folder", help="the folder of the backup")

    def handle(self, *args: Any, **options: Any) -> None:
        settings.VAR_DIR.mkdir(parents=True, exist_ok=True)
        try:
            with only_one(settings.VAR_DIR):
                self.tell(restore(options["folder"], self.say))
        except Refused as refused:
            raise CommandError("\n".join(refused.reasons)) from refused
        except AlreadyRunning as error:
            raise CommandError(str(error)) from error

    def tell(self, restored: Restored) -> None:
        about, chain = restored.about, restored.chain
        made_at = f"{timezone.localtime(datetime.fromisoformat(about.made_at)):%d %b %Y, %H:%M (%Z)}".lstrip("0")
        self.say(f"The site is as it was on {made_at}: {about.files} files, {sum(about.counts.values())} rows.")
        if about.left_out:
            self.say("Not in the backup, since no whole copy was left when it was made: " + ", ".join(about.left_out))
        if restored.key_differs:
            self.say(
                "SECRET_KEY is another than before. Set it to what stands in the backup's file secret_key: "
                "otherwise links that were sent and the mail password stop working."
            )
        if chain.faults:
            raise CommandError("The record of events is not whole:\n" + "\n".join(chain.faults))
        self.say(f"The record of events is whole: {chain.sealed} sealed, {chain.unsealed} waiting to be sealed.")

    def say(self, sentence: str) -> None:
        self.stdout.write(sentence)
        self.stdout.flush()
