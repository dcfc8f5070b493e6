"""Speak the demo's scripts anew, on a computer with espeak-ng."""

import shutil
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from intake.local import speaker


class Command(BaseCommand):
    help = "Makes intake/local/speech/*.ogg from the scripts beside them. Needs espeak-ng; the demo itself does not."

    def handle(self, *args: Any, **options: Any) -> None:
        if shutil.which("espeak-ng") is None:
            raise CommandError("espeak-ng is missing. On Debian or Ubuntu: apt-get install espeak-ng")
        for script in speaker.scripts():
            try:
                made = speaker.make(script)
            except speaker.ScriptFault as fault:
                raise CommandError(f"{script.name}: {fault}") from fault
            self.stdout.write(f"{made.name}: {made.stat().st_size / 1000:.0f} kB")
