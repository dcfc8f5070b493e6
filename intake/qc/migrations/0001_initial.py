import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("files", "0002_append_only"),
    ]

    operations = [
        migrations.CreateModel(
            name="QCReport",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("audio_qc_version", models.CharField(max_length=20)),
                ("profile", models.CharField(help_text="Name and version of the target profile.", max_length=60)),
                (
                    "unreadable",
                    models.TextField(blank=True, help_text="Why nothing could be measured; empty if it could."),
                ),
                ("measurement", models.JSONField(null=True)),
                (
                    "samples_sha256",
                    models.CharField(
                        blank=True,
                        db_index=True,
                        help_text="Of the decoded sound: the same for the same sound.",
                        max_length=64,
                    ),
                ),
                (
                    "series",
                    models.JSONField(
                        help_text="Waveform, loudness over time, spectrum and spread of levels.", null=True
                    ),
                ),
                ("findings", models.JSONField(default=list)),
                ("standing", models.CharField(max_length=20)),
                ("verdict", models.TextField()),
                ("measured_at", models.DateTimeField(auto_now_add=True)),
                (
                    "file",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="qc_reports", to="files.storedfile"
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("file", "audio_qc_version", "profile"), name="file_is_measured_once_by_a_version"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("measurement__isnull", False), models.Q(("unreadable", ""), _negated=True), _connector="OR"
                        ),
                        name="report_measures_or_says_why_not",
                    ),
                ],
            },
        ),
    ]
