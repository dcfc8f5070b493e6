"""Take interviews in again from their preservation packages."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from intake.errors import Refused
from intake.figures import size
from intake.files.services import Damaged
from intake.outputs.packages.restoring import take_in
from intake.outputs.packages.unpacking import bags_in


class Command(BaseCommand):
    help = (
        "Takes accepted interviews in from preservation packages of a site like this one: files, rows and history. "
        "Each package is judged first, and taken in as a whole or not at all. Accounts come closed and without a "
        "password. Stopped, or refused for one package, those before it are in."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("source", type=Path, help="a package, a folder of packages, or a ZIP archive of them")

    def handle(self, *args: Any, **options: Any) -> None:
        refused: list[str] = []
        try:
            with bags_in(options["source"], self._progress) as packages:
                for number, package in enumerate(packages, start=1):
                    try:
                        interview = take_in(package)
                    except Refused as error:
                        refused += [f"{package.name} was not taken in:", *error.reasons]
                    else:
                        self.stdout.write(f"{number} of {len(packages)}: {package.name} is in, {interview.title}.")
        except (OSError, Damaged, Refused) as error:
            raise CommandError(str(error)) from error
        if refused:
            raise CommandError("\n".join(refused))

    def _progress(self, done: int, total: int) -> None:
        if done == total:
            self.stdout.write(f"{size(total)} unpacked")
