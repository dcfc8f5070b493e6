import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("files", "0002_append_only"),
        ("interviews", "0001_initial"),
    ]

    operations = [
        migrations.CreateModel(
            name="Output",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("listening-copy", "Listening copy"),
                            ("working-copy", "Working copy"),
                            ("access-copy", "Access copy"),
                            ("described-copy", "Described copy"),
                            ("release-copy", "Signer's copy of a release"),
                            ("agreement-copy", "Signer's copy of an agreement"),
                            ("arrival-receipt", "Arrival receipt"),
                            ("receipt", "Acceptance receipt"),
                        ],
                        max_length=20,
                    ),
                ),
                ("subject_id", models.CharField(max_length=64)),
                ("made_at", models.DateTimeField(auto_now_add=True)),
                (
                    "file",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="files.storedfile"
                    ),
                ),
                (
                    "interview",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="outputs", to="interviews.interview"
                    ),
                ),
            ],
            options={
                "constraints": [models.UniqueConstraint(fields=("kind", "subject_id"), name="output_is_made_once")],
            },
        ),
    ]
