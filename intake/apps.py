"""The project's own app: registers the job handlers once every model is loaded."""

from importlib import import_module

from django.apps import AppConfig


class IntakeConfig(AppConfig):
    name = "intake"

    def ready(self) -> None:
        import_module("intake.background")
        import_module("intake.checks")
