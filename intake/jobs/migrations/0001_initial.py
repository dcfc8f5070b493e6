from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = []

    operations = [
        migrations.CreateModel(
            name="Job",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("store-upload", "Compare and store a received file"),
                            ("measure-part", "Measure a part"),
                            ("make-listening-copy", "Make a listening copy"),
                            ("make-sound-picture", "Draw a part for the review desk"),
                            ("make-working-copy", "Make a working copy"),
                            ("make-described-copies", "Make described copies"),
                            ("make-release-copy", "Make a signer's copy of a release"),
                            ("make-agreement-copy", "Make a signer's copy of an agreement"),
                            ("make-arrival-receipt", "Make an arrival receipt"),
                            ("make-receipt", "Make an acceptance receipt"),
                            ("make-letter", "Make a letter"),
                            ("make-quality-report", "Make a quality report"),
                            ("reissue-paper", "Make a new version of a paper"),
                            ("read-scan", "Read the code on a scan of a signed form"),
                            ("send-message", "Send a message"),
                            ("audit-copies", "Read the night's share of stored copies"),
                            ("check-copies", "Read copies again"),
                            ("tell-incidents", "Tell the coordinators of bad copies"),
                            ("tell-card", "Tell a volunteer how the card stands"),
                            ("lift-closures", "Note the closures whose day has come"),
                            ("make-access-copies", "Make the copies in which closed passages are silent"),
                            ("clear-uploads", "Tell of uploads that nobody finishes, and clear them"),
                            ("refresh-queue", "Bring the queue up to date"),
                            ("refresh-harvest", "Bring the records for harvesters up to date"),
                            ("read-list", "Read a list of headings"),
                            ("seal-events", "Seal events into the chain"),
                        ],
                        max_length=30,
                    ),
                ),
                ("subject_id", models.CharField(max_length=64)),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("waiting", "waiting"),
                            ("running", "running"),
                            ("done", "done"),
                            ("failed", "failed"),
                        ],
                        default="waiting",
                        max_length=10,
                    ),
                ),
                ("attempts", models.PositiveIntegerField(default=0)),
                ("due_at", models.DateTimeField()),
                ("nudged_at", models.DateTimeField(null=True)),
                ("lease_until", models.DateTimeField(null=True)),
                ("progress", models.FloatField(help_text="Share done, 0 to 1, while running.", null=True)),
                ("error", models.TextField(blank=True)),
                ("created_at", models.DateTimeField(auto_now_add=True)),
                ("finished_at", models.DateTimeField(null=True)),
            ],
            options={
                "indexes": [models.Index(fields=["state", "due_at"], name="job_by_state_and_due")],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("state__in", ["waiting", "running"])),
                        fields=("kind", "subject_id"),
                        name="job_is_open_once",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state", "running"), _negated=True),
                            ("lease_until__isnull", False),
                            _connector="OR",
                        ),
                        name="running_job_has_a_lease",
                    ),
                ],
            },
        ),
    ]
