"""Judge bags: whether they are valid, to the last byte."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from intake.errors import Refused
from intake.figures import size
from intake.outputs.packages.judging import judge
from intake.outputs.packages.unpacking import bags_in


class Command(BaseCommand):
    help = (
        "Reads bags to their last byte and holds them against BagIt 1.0 (RFC 8493) or 0.97. Exit status 0 if every one "
        "is valid, 1 if any is not."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("source", type=Path, help="a bag, a folder of bags, or a ZIP archive of them")

    def handle(self, *args: Any, **options: Any) -> None:
        invalid = 0
        try:
            with bags_in(options["source"], self._progress) as bags:
                for bag in bags:
                    judgement = judge(bag)
                    self.stdout.write(f"{bag.name}: {'valid' if judgement.is_valid else 'NOT VALID'}")
                    for sentence in judgement.faults + judgement.remarks:
                        self.stdout.write(f"  {sentence}")
                    invalid += not judgement.is_valid
        except (OSError, Refused) as error:
            raise CommandError(str(error)) from error
        if invalid:
            raise CommandError(f"{invalid} of {len(bags)} are not valid.")

    def _progress(self, done: int, total: int) -> None:
        if done == total:
            self.stdout.write(f"{size(total)} unpacked")
