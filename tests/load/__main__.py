"""`make load`: the queue among a million generated interviews, in a database of its own on PostgreSQL."""

import argparse
import os
import sys
import time
from importlib import import_module

import django
from django.core.management import call_command

from tests.site import database_beside


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--interviews", type=int, default=1_000_000)
    number = parser.parse_args().interviews
    url = os.environ.get("DATABASE_URL", "")
    if not url.startswith("postgres"):
        print("Say where PostgreSQL is: DATABASE_URL=postgres://postgres@127.0.0.1:5432/postgres make load")
        return 2
    with database_beside(url) as own:
        os.environ.update(DATABASE_URL=own, DJANGO_SETTINGS_MODULE="intake.settings.test")
        django.setup()
        call_command("migrate", verbosity=0)
        queue = import_module("tests.load.queue")  # its models need the settings first
        began = time.monotonic()
        queue.fill(number)
        print(f"{number:,} interviews made in {time.monotonic() - began:.0f} s.\n")
        return queue.show()


if __name__ == "__main__":
    sys.exit(main())
