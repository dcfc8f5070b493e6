"""The wordings that a new site begins with, for a database that was emptied after its migrations ran."""

from importlib import import_module

from django.apps.registry import Apps

_migration = import_module("intake.releases.migrations.0002_starter_wordings")


def put_starter_wordings_into_force(apps: Apps) -> None:
    _migration.put_into_force(apps, None)
