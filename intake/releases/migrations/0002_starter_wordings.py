"""A first wording for each moment, role and language, so that a new site can take in its first interview.

The library's counsel adapts it.
"""

from pathlib import Path

from django.db import migrations

STARTER = Path(__file__).resolve().parents[1] / "starter"


def put_into_force(apps, schema_editor) -> None:
    wording = apps.get_model("releases", "Wording")
    for path in sorted(STARTER.glob("*.txt")):
        moment, role, language, _ = path.name.split(".")
        title, _, text = path.read_text().partition("\n")
        wording.objects.create(
            moment=moment,
            role=role,
            language=language,
            version=1,
            basis="licence" if moment == "release" else "",
            title=title,
            text=text.strip(),
        )


class Migration(migrations.Migration):
    dependencies = [("releases", "0001_initial")]
    operations = [migrations.RunPython(put_into_force, migrations.RunPython.noop)]
