"""Write preservation packages into one archive."""

from argparse import ArgumentParser
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from intake.errors import Refused
from intake.figures import size
from intake.interviews.models import Collection
from intake.outputs.packages.bags import Bag, NotAsStored
from intake.outputs.packages.contents import left_out, package_of, packages_of
from intake.outputs.packages.giving import archive
from intake.register.models import Accession

TOLD_EVERY_BYTES = 1_000_000_000


class Command(BaseCommand):
    help = (
        "Writes the preservation packages of an accession, of a collection or of everything accepted into a ZIP "
        "archive: a bag for each interview. Every file is compared with its SHA-256 as it is read. The archive has its "
        "name only once it is whole."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        what = parser.add_mutually_exclusive_group(required=True)
        what.add_argument("--accession", metavar="NUMBER", help="one accession")
        what.add_argument("--collection", metavar="NAME", help="everything accepted in a collection")
        what.add_argument("--all", action="store_true", help="everything accepted")
        parser.add_argument("target", type=Path, help="the archive to write; it must not be there yet")

    def handle(self, *args: Any, **options: Any) -> None:
        target: Path = options["target"]
        if target.exists():
            raise CommandError(f"{target} is there already.")
        arriving = target.with_name(f".arriving-{target.name}")
        try:
            makers = self._makers(options)
            if not makers:
                raise CommandError("Nothing of it may be handed out now.")
            self._write(arriving, makers)
            arriving.rename(target)
        except NotAsStored as error:
            raise CommandError(f"{error} Its copies are being read and mended; try again in a while.") from error
        except (OSError, Refused) as error:
            raise CommandError(str(error)) from error
        finally:
            arriving.unlink(missing_ok=True)
        self.stdout.write(f"{target}: {size(target.stat().st_size)}. Judge it where it is kept: check_packages.")

    def _makers(self, options: dict[str, Any]) -> list[Callable[[], Bag]]:
        if options["accession"]:
            accession = Accession.objects.filter(number=options["accession"], undone_at=None).first()
            if accession is None:
                raise CommandError(f"No accession that stands has the number {options['accession']}.")
            return [lambda: package_of(accession.interview, actor=None)]
        if options["collection"]:
            collection = Collection.objects.filter(name=options["collection"]).first()
            if collection is None:
                raise CommandError(f"There is no collection “{options['collection']}”.")
            return self._makers_of(collection)
        standing = Accession.objects.filter(undone_at=None)
        accepted = Collection.objects.filter(pk__in=standing.values("interview__collection"))
        if not accepted:
            raise CommandError("Nothing has been accepted yet.")
        return [maker for collection in accepted for maker in self._makers_of(collection)]

    def _makers_of(self, collection: Collection) -> list[Callable[[], Bag]]:
        """What may not be handed out now is named and left out; the others go on."""
        for sentence in left_out(collection):
            self.stdout.write(f"Left out: {sentence}")
        try:
            return packages_of(collection, actor=None)
        except Refused:
            return []

    def _write(self, target: Path, makers: Iterable[Callable[[], Bag]]) -> None:
        done = told = 0
        with target.open("xb") as file:
            for block in archive(makers, actor=None):
                done += file.write(block)
                if done - told >= TOLD_EVERY_BYTES:
                    told = done
                    self.stdout.write(f"{size(done)} written")
