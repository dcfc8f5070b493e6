"""Check that the chain of sealed events is whole."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from intake.audit.services import check_chain


class Command(BaseCommand):
    help = "Reads every event and seal again and says whether the chain is whole. Note the last digest somewhere else."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--known-digest", help="a last digest noted earlier; it must still be in the chain")

    def handle(self, *args: Any, **options: Any) -> None:
        check = check_chain(options["known_digest"])
        if check.faults:
            raise CommandError("The chain of events is broken.\n" + "\n".join(check.faults[:50]))
        self.stdout.write(f"The chain is whole: {check.sealed} events sealed, {check.unsealed} waiting to be sealed.")
        self.stdout.write(f"Last digest: {check.head}")
