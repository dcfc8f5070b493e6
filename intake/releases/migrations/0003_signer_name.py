from django.db import migrations, models


def as_it_is_now(apps, schema_editor):
    for release in apps.get_model("releases", "Release").objects.select_related("participant__person"):
        release.signer_name = release.participant.person.name
        release.save(update_fields=["signer_name"])


class Migration(migrations.Migration):
    dependencies = [("releases", "0002_starter_wordings")]

    operations = [
        migrations.AddField(
            model_name="release",
            name="signer_name",
            field=models.CharField(default="", help_text="As it was when it was signed.", max_length=200),
            preserve_default=False,
        ),
        migrations.RunPython(as_it_is_now, migrations.RunPython.noop),
    ]
