"""Back the site up while it runs: `make backup TO=folder`."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from intake.errors import Refused
from intake.figures import size
from intake.local import backup


class Command(BaseCommand):
    help = "Copies the database, all files, the mail folder and the secret key into a folder, with a list of digests."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--to", required=True, type=Path, help="an empty folder, or one that holds an earlier backup"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            about = backup.make(options["to"], self.say)
        except Refused as refused:
            raise CommandError("\n".join(refused.reasons)) from refused
        self.say(f"Backed up {about.files} files ({size(about.bytes)}) and {sum(about.counts.values())} rows.")
        self.say(
            "The secret key and everything told in confidence are inside: keep the folder locked up, on another disk."
        )
        if about.left_out:
            raise CommandError(
                f"{len(about.left_out)} files are whole in no store of this site and not in the backup: "
                + ", ".join(about.left_out)
            )

    def say(self, sentence: str) -> None:
        self.stdout.write(sentence)
        self.stdout.flush()
