"""Open the first coordinator's account: on a server, and on the first start of a real site."""

import sys
from argparse import ArgumentParser
from getpass import getpass
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from intake.accounts.models import User
from intake.errors import Refused
from intake.local.coordinator import open_first_account

NOBODY_TO_ASK = (
    "There is no coordinator yet and no terminal to ask at. "
    "Set FIRST_COORDINATOR_NAME, FIRST_COORDINATOR_EMAIL and FIRST_COORDINATOR_PASSWORD, for example in .env."
)


class Command(BaseCommand):
    help = "Opens a coordinator's account from FIRST_COORDINATOR_NAME, _EMAIL and _PASSWORD, or asks at the terminal."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--name", default=settings.FIRST_COORDINATOR_NAME)
        parser.add_argument("--email", default=settings.FIRST_COORDINATOR_EMAIL)

    def handle(self, *args: Any, **options: Any) -> None:
        name, email, password = options["name"], options["email"], settings.FIRST_COORDINATOR_PASSWORD
        if name and email and password:
            user = self._open(name, email, password)
        elif sys.stdin.isatty():
            user = self._ask(name, email, password)
        else:
            raise CommandError(NOBODY_TO_ASK)
        self.stdout.write(f"{user.name} can sign in now with {user.email}.")

    def _ask(self, name: str, email: str, password: str) -> User:
        self.stdout.write("The first coordinator invites everybody else.")
        name = name or input("Name: ")
        email = email or input("E-mail address: ")
        while True:
            try:
                return open_first_account(name=name, email=email, password=password or self._new_password())
            except Refused as refused:
                self.stdout.write("\n".join(refused.reasons))
                name, email = input(f"Name [{name}]: ") or name, input(f"E-mail address [{email}]: ") or email
                password = ""

    def _new_password(self) -> str:
        while True:
            password = getpass("Password (10 characters or more): ")
            if password == getpass("The same again: "):
                return password
            self.stdout.write("The two were not the same.")

    def _open(self, name: str, email: str, password: str) -> User:
        try:
            return open_first_account(name=name, email=email, password=password)
        except Refused as refused:
            raise CommandError("\n".join(refused.reasons)) from refused
