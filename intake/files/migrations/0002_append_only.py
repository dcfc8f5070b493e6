"""The database itself refuses to change or delete fixity checks."""

from django.db import migrations

from intake.audit import triggers


def install(apps, schema_editor) -> None:
    triggers.install(schema_editor.connection, triggers.FIXITY)


def remove(apps, schema_editor) -> None:
    triggers.remove(schema_editor.connection, triggers.FIXITY)


class Migration(migrations.Migration):
    dependencies = [("files", "0001_initial")]
    operations = [migrations.RunPython(install, remove)]
