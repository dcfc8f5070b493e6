import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("interviews", "0001_initial"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="SigningSession",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("opened_at", models.DateTimeField(auto_now_add=True)),
                ("expires_at", models.DateTimeField()),
                ("used_at", models.DateTimeField(null=True)),
                (
                    "opened_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "participant",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="signing_sessions",
                        to="interviews.participant",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="Wording",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "role",
                    models.CharField(choices=[("narrator", "Narrator"), ("interviewer", "Interviewer")], max_length=12),
                ),
                ("language", models.CharField(help_text="BCP 47 tag.", max_length=35)),
                ("version", models.PositiveIntegerField()),
                ("title", models.CharField(max_length=200)),
                ("text", models.TextField(help_text="Paragraphs are parted by empty lines.")),
                ("in_force_from", models.DateTimeField(auto_now_add=True)),
            ],
            options={
                "ordering": ("role", "language", "-version"),
                "constraints": [
                    models.UniqueConstraint(fields=("role", "language", "version"), name="wording_version_is_used_once")
                ],
            },
        ),
        migrations.CreateModel(
            name="Release",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("number", models.CharField(help_text="To check the paper by.", max_length=20, unique=True)),
                ("signer_name", models.CharField(help_text="As it was when it was signed.", max_length=200)),
                ("wording_text", models.TextField(help_text="Word for word as shown to the signer.")),
                ("wording_sha256", models.CharField(max_length=64)),
                (
                    "access",
                    models.CharField(
                        choices=[
                            ("open", "Open: anyone may hear it"),
                            ("on-site", "On site only: it may be heard in the library, and is not put online"),
                            (
                                "closed",
                                "Closed until a date: until then only the library's staff and the volunteer who recorded it hear it",
                            ),
                        ],
                        max_length=10,
                    ),
                ),
                ("closed_until", models.DateField(null=True)),
                ("name_withheld", models.BooleanField()),
                (
                    "method",
                    models.CharField(
                        choices=[("drawn", "Draw my signature"), ("typed", "Type my name")], max_length=10
                    ),
                ),
                ("typed_name", models.CharField(blank=True, max_length=200)),
                ("signature_png", models.BinaryField(null=True)),
                ("consented_at", models.DateTimeField(help_text="When signing electronically was agreed to.")),
                ("signed_at", models.DateTimeField()),
                ("address", models.GenericIPAddressField(null=True)),
                ("agent", models.CharField(blank=True, max_length=300)),
                ("interview_as_described", models.JSONField()),
                ("withdrawn_at", models.DateTimeField(null=True)),
                (
                    "participant",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="releases",
                        to="interviews.participant",
                    ),
                ),
                (
                    "session",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="release",
                        to="releases.signingsession",
                    ),
                ),
                (
                    "wording",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="releases.wording"
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("withdrawn_at", None)),
                        fields=("participant",),
                        name="participant_has_one_standing_release",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("access", "closed"), ("closed_until__isnull", False)),
                            models.Q(models.Q(("access", "closed"), _negated=True), ("closed_until__isnull", True)),
                            _connector="OR",
                        ),
                        name="closed_release_says_until_when",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("method", "drawn"), ("signature_png__isnull", False)),
                            models.Q(("method", "typed"), models.Q(("typed_name", ""), _negated=True)),
                            _connector="OR",
                        ),
                        name="release_keeps_its_signature",
                    ),
                ],
            },
        ),
    ]
