"""Take in a back-log: a folder of recordings and a CSV that says what they are (docs/import.md)."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from intake.accounts.services import staff
from intake.backlog import checking, services
from intake.backlog.checking import Plan
from intake.backlog.services import Report
from intake.errors import Refused
from intake.figures import size

INTERRUPTED = 130  # what shells report of a program ended by Ctrl-C


class Command(BaseCommand):
    help = "Takes a folder of recordings in by a CSV. Everything is checked first; started again, it goes on."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("folder", type=Path)
        parser.add_argument("--csv", type=Path, required=True, help="A path, or a name inside the folder.")
        parser.add_argument("--actor", required=True, help="The e-mail address of whoever of the staff takes it in.")
        parser.add_argument("--submit", action="store_true", help="Hand in what is complete; the rest stays a draft.")
        parser.add_argument("--leave-unlisted", action="store_true", help="Leave files that no row names.")
        parser.add_argument("--dry-run", action="store_true", help="Check and tell, write nothing.")

    def handle(self, *args: Any, **options: Any) -> None:
        actor = staff().filter(email=options["actor"].lower()).first()
        if actor is None:
            raise CommandError(f"Nobody of the staff signs in with {options['actor']}.")
        plan = self._plan(options["folder"], options["csv"], leave_unlisted=options["leave_unlisted"])
        if plan.problems:
            for problem in plan.problems:
                self.stderr.write(f"- {problem}")
            count = len(plan.problems)
            raise CommandError(f"{count} problem{'' if count == 1 else 's'}. Nothing was written.")
        self.stdout.write(
            f"{len(plan.rows)} rows, {sum(len(row.files) for row in plan.rows)} files, {size(plan.bytes)}."
        )
        if options["dry_run"]:
            self.stdout.write("Everything is in order. Nothing was written.")
            return
        try:
            report = services.take_in(plan, actor=actor, submit=options["submit"], say=self.stdout.write)
        except Refused as refused:
            raise CommandError(str(refused)) from refused
        except KeyboardInterrupt:
            told = "Interrupted. Start the same command again, and it goes on where it stopped."
            raise CommandError(told, returncode=INTERRUPTED) from None
        self._tell(report)

    def _plan(self, folder: Path, csv: Path, *, leave_unlisted: bool) -> Plan:
        if not folder.is_dir():
            raise CommandError(f"There is no folder {folder}.")
        path = csv if csv.is_file() else folder / csv
        if not path.is_file():
            raise CommandError(f"There is no file {csv}, neither here nor in the folder.")
        return checking.check(folder, path, leave_unlisted=leave_unlisted)

    def _tell(self, report: Report) -> None:
        self.stdout.write(f"Taken now: {report.taken} interviews, {size(report.bytes)}, each file stored twice.")
        self.stdout.write(f"Taken in an earlier run: {report.taken_earlier}. Handed in: {report.handed_in}.")
        if report.notes:
            self.stdout.write("To look at:")
        for number, note in report.notes:
            self.stdout.write(f"- Row {number}: {note}")
        self.stdout.write("Measuring goes on in the background.")
