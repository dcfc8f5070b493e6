"""Read stored copies again, now."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from intake.errors import Refused
from intake.figures import size
from intake.files import audits, incidents
from intake.files.fixity import BeingRead
from intake.files.models import Incident, Why
from intake.outputs import custody


class Command(BaseCommand):
    help = (
        "Reads the copies of some stored files, or of all, to their end and compares them. What is bad is set aside "
        "and restored where another copy is good. Exit status 0 if every copy was right, 1 if any was not. Stopped, "
        "the same command goes on where it was."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        what = parser.add_mutually_exclusive_group(required=True)
        what.add_argument("--all", action="store_true", help="every stored file")
        what.add_argument("--interview", type=int, metavar="N", help="everything of the interview with this number")
        what.add_argument("--file", metavar="UUID", help="one stored file")
        parser.add_argument(
            "--budget", type=int, metavar="BYTES", help="leave off after so many bytes; go on next time"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        about = custody.EVERYTHING
        if options["interview"]:
            about = f"interviews.interview:{options['interview']}"
        elif options["file"]:
            about = f"files.storedfile:{options['file']}"
        files = custody.files_about(about)
        count = files.count()
        if not count:
            raise CommandError("There is no stored file to read.")
        gone = incidents.note_stores()
        audit = audits.open_audit(about=about, why=Why.ASKED, actor=None)
        try:
            is_all = audits.read_all(audit, files, self._progress, budget=options["budget"])
        except (BeingRead, Refused) as error:
            raise CommandError(f"{error}. Try again in a while.") from error
        audit.refresh_from_db()
        self.stdout.write(
            f"{audit.copies_read} readings of {count} files, {size(audit.bytes_read)}"
            + ("." if is_all else "; the budget is spent, and the same command goes on.")
        )
        told = [f"The {store} store is not there." for store in sorted(gone)]
        for incident in Incident.objects.filter(check_found__audit=audit).select_related("file"):
            told.append(f"{incident.file_id} {incident.told} Now: {incident.get_state_display()}.")
        for incident in Incident.objects.filter(file__in=files, closed_at=None).exclude(check_found__audit=audit):
            told.append(f"{incident.file_id} {incident.told} Still: {incident.get_state_display()}.")
        if told:
            raise CommandError("\n".join(told))
        self.stdout.write("Every copy is right.")

    def _progress(self, done: int, total: int) -> None:
        self.stdout.write(f"{size(done)} of {size(total)} in two copies")
