"""What the search needs: an index on PostgreSQL, a table of its own on SQLite."""

from django.db import migrations

from intake.queue import search


def install(apps, schema_editor) -> None:
    search.install(schema_editor.connection)


class Migration(migrations.Migration):
    dependencies = [("queue", "0001_initial")]
    operations = [migrations.RunPython(install, migrations.RunPython.noop)]
