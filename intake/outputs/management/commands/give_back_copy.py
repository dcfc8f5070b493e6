"""Give a good copy of a damaged file back to the library."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError

from intake.errors import Refused
from intake.files import incidents
from intake.files.fixity import BeingRead
from intake.files.models import StoredFile
from intake.files.services import is_safe
from intake.outputs import custody


class Command(BaseCommand):
    help = (
        "Takes a file from a volunteer's card or a backup and puts it wherever a store has no good copy. Only the very "
        "file is taken, told by its SHA-256; what stands there now is set aside, not removed."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", help="the stored file's number, as the page “Copies” shows it")
        parser.add_argument("source", type=Path, help="the good copy")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            file = StoredFile.objects.get(pk=options["file"])
        except (StoredFile.DoesNotExist, ValidationError) as error:
            raise CommandError(f"No stored file has the number {options['file']}.") from error
        try:
            mended = incidents.give_back(file, options["source"])
        except (OSError, BeingRead, Refused) as error:
            raise CommandError(str(error)) from error
        custody.tell_volunteers([file])
        if not is_safe(StoredFile.objects.get(pk=file.pk)):
            raise CommandError("It is not in two good copies yet. The page “Copies” says what stands in the way.")
        where = " and ".join(mended)
        self.stdout.write(f"Restored in: {where}." if mended else "Both copies were right; nothing was changed.")
