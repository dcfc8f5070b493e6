"""Fill a store again that was lost as a whole."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from intake.errors import Refused
from intake.figures import size
from intake.files import rebuilding, storage
from intake.files.fixity import BeingRead
from intake.files.models import Incident
from intake.files.stores import FAULTS, StoreGone


class Command(BaseCommand):
    help = (
        "Makes the folder or bucket that the settings name now this store, and places every file in it from the other "
        "store, each read before and after. Stopped, the same command goes on where it was."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("store", choices=storage.STORES)

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            audit = rebuilding.rebuild(options["store"], self._progress)
        except (BeingRead, Refused, StoreGone, *FAULTS) as error:
            raise CommandError(f"It broke off and may be started again: {error}") from error
        placed = audit.checks.filter(store=options["store"], why="restored", found="matches").count()
        self.stdout.write(f"{placed} files were placed in the {options['store']} store and read back.")
        if left := Incident.objects.filter(closed_at=None).count():
            raise CommandError(f"{left} incidents are open. The page “Copies” says what to do.")

    def _progress(self, done: int, total: int) -> None:
        self.stdout.write(f"{size(done)} of {size(total)}")
