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
            name="YearCounter",
            fields=[
                ("year", models.PositiveIntegerField(primary_key=True, serialize=False)),
                ("last", models.PositiveIntegerField(default=0)),
            ],
        ),
        migrations.CreateModel(
            name="Accession",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("year", models.PositiveIntegerField()),
                ("sequence", models.PositiveIntegerField()),
                ("number", models.CharField(max_length=40, unique=True)),
                ("receipt_number", models.CharField(help_text="To check the receipt by.", max_length=20, unique=True)),
                ("accepted_at", models.DateTimeField()),
                ("snapshot", models.JSONField()),
                ("undo_proposed_at", models.DateTimeField(null=True)),
                (
                    "undo_reason",
                    models.TextField(blank=True, help_text="Why the acceptance was a mistake; the giver reads it."),
                ),
                ("undone_at", models.DateTimeField(null=True)),
                (
                    "accepted_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "interview",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="accessions",
                        to="interviews.interview",
                    ),
                ),
                (
                    "undo_proposed_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "undone_by",
                    models.ForeignKey(
                        help_text="Who confirmed it.",
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ("year", "sequence"),
                "constraints": [
                    models.UniqueConstraint(fields=("year", "sequence"), name="accession_sequence_is_used_once"),
                    models.UniqueConstraint(
                        condition=models.Q(("undone_at", None)),
                        fields=("interview",),
                        name="interview_has_one_standing_accession",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("undo_proposed_at", None), ("undo_proposed_by", None), ("undo_reason", "")),
                            models.Q(
                                ("undo_proposed_at__isnull", False),
                                ("undo_proposed_by__isnull", False),
                                models.Q(("undo_reason", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="proposed_undo_says_who_when_and_why",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("undone_at", None), ("undone_by", None)),
                            models.Q(
                                ("undo_proposed_by__isnull", False),
                                ("undone_at__isnull", False),
                                ("undone_by__isnull", False),
                                models.Q(("undone_by", models.F("undo_proposed_by")), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="undoing_takes_two_people",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Arrival",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("number", models.CharField(help_text="To check the arrival receipt by.", max_length=20, unique=True)),
                ("at", models.DateTimeField()),
                ("snapshot", models.JSONField()),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "interview",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="arrivals", to="interviews.interview"
                    ),
                ),
                (
                    "replaces",
                    models.OneToOneField(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="replaced_by",
                        to="register.arrival",
                    ),
                ),
            ],
            options={
                "ordering": ("id",),
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("replaces", None)),
                        fields=("interview",),
                        name="interview_first_arrives_once",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="CardNotice",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("at", models.DateTimeField(auto_now_add=True)),
                ("files", models.JSONField(help_text="Name, bytes and SHA-256 of each recording.")),
                (
                    "withdrawn_at",
                    models.DateTimeField(
                        help_text="When the volunteer was asked to keep the card after all.", null=True
                    ),
                ),
                (
                    "interview",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="card_notices",
                        to="interviews.interview",
                    ),
                ),
            ],
            options={
                "ordering": ("id",),
            },
        ),
    ]
