"""For the day when the only coordinator has lost phone and codes: on the server, where nobody else can reset it."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from intake.accounts.models import User
from intake.errors import Refused
from intake.people import second_step


class Command(BaseCommand):
    help = "Takes the second step off an account; its owner signs in with the password and sets it up anew."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("email", help="the address with which the person signs in")

    def handle(self, *args: Any, **options: Any) -> None:
        user = User.objects.filter(email=options["email"].lower(), is_active=True).first()
        if user is None:
            raise CommandError(f"Nobody signs in with {options['email']}.")
        try:
            second_step.reset(user.pk, actor=None)
        except Refused as refused:
            raise CommandError("\n".join(refused.reasons)) from refused
        self.stdout.write(f"{user.name} signs in with the password alone and then sets up a second step anew.")
