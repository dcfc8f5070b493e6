"""Fill an empty demo with invented people and interviews."""

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from intake.accounts.models import User
from intake.local import demo


class Command(BaseCommand):
    help = "Loads the demo's people and interviews into an empty database (settings intake.settings.demo)."

    def handle(self, *args: Any, **options: Any) -> None:
        if not settings.DEMO:
            raise CommandError("This is not the demo, so nothing invented is put into it.")
        if User.objects.exists():
            raise CommandError("There are people in this database already; the demo is loaded into an empty one only.")
        try:
            demo.load(self.say)
        except demo.DemoFailed as error:
            raise CommandError(str(error)) from error

    def say(self, sentence: str) -> None:
        self.stdout.write(sentence)
        self.stdout.flush()
