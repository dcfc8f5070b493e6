from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("files", "0001_initial"),
    ]

    operations = [
        migrations.CreateModel(
            name="Message",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("key", models.CharField(max_length=100, unique=True)),
                (
                    "thread",
                    models.CharField(
                        blank=True,
                        db_index=True,
                        help_text="The thing whose story this belongs to: type:id.",
                        max_length=130,
                    ),
                ),
                ("to", models.EmailField(max_length=254)),
                ("subject", models.CharField(max_length=200)),
                ("text", models.TextField(blank=True)),
                (
                    "holds_secret",
                    models.BooleanField(
                        default=False, help_text="A link for one person: the text is cleared once sent."
                    ),
                ),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("waiting", "Waiting to be sent"),
                            ("sent", "Sent"),
                            ("failed", "Not sent"),
                            ("bounced", "Came back"),
                        ],
                        default="waiting",
                        max_length=10,
                    ),
                ),
                ("attempts", models.PositiveIntegerField(default=0)),
                (
                    "last_error",
                    models.TextField(blank=True, help_text="What went wrong at the latest attempt, in plain words."),
                ),
                ("written_at", models.DateTimeField(auto_now_add=True)),
                ("last_tried_at", models.DateTimeField(null=True)),
                ("sent_at", models.DateTimeField(help_text="When a mail server last took it.", null=True)),
                ("bounced_at", models.DateTimeField(null=True)),
                (
                    "settled_at",
                    models.DateTimeField(help_text="When staff marked its trouble as dealt with.", null=True),
                ),
                ("attachments", models.ManyToManyField(related_name="+", to="files.storedfile")),
            ],
            options={
                "ordering": ("-id",),
                "indexes": [models.Index(fields=["state", "settled_at"], name="message_by_state")],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("state__in", ["waiting", "sent", "failed", "bounced"])),
                        name="message_has_a_known_state",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state", "sent"), _negated=True), ("sent_at__isnull", False), _connector="OR"
                        ),
                        name="sent_message_says_when_it_was_sent",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state", "bounced"), _negated=True),
                            ("bounced_at__isnull", False),
                            _connector="OR",
                        ),
                        name="bounced_message_says_when",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("holds_secret", False),
                            models.Q(("state__in", ["sent", "bounced"]), _negated=True),
                            ("text", ""),
                            _connector="OR",
                        ),
                        name="secret_goes_once_it_was_sent",
                    ),
                ],
            },
        ),
    ]
