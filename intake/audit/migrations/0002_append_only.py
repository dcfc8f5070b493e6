"""The database itself refuses to change or delete events and seals."""

from django.db import migrations

from intake.audit import triggers


def install(apps, schema_editor) -> None:
    triggers.install(schema_editor.connection, triggers.EVENTS)


def remove(apps, schema_editor) -> None:
    triggers.remove(schema_editor.connection, triggers.EVENTS)


class Migration(migrations.Migration):
    dependencies = [("audit", "0001_initial")]
    operations = [migrations.RunPython(install, remove)]
