"""A first wording for each role, so that a new site can take in its first interview.

The library's counsel adapts it.
"""

from pathlib import Path

from django.db import migrations

STARTER = Path(__file__).resolve().parents[1] / "starter"


def put_into_force(apps, schema_editor) -> None:
    wording = apps.get_model("releases", "Wording")
    for role in ("narrator", "interviewer"):
        title, _, text = (STARTER / f"{role}.en.txt").read_text().partition("\n")
        wording.objects.create(role=role, language="en", version=1, title=title, text=text.strip())


class Migration(migrations.Migration):
    dependencies = [("releases", "0001_initial")]
    operations = [migrations.RunPython(put_into_force, migrations.RunPython.noop)]
