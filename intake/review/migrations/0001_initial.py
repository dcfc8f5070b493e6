import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("interviews", "0001_initial"),
        ("qc", "0001_initial"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Decision",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "verdict",
                    models.CharField(
                        choices=[("accepted", "Accepted"), ("sent-back", "Sent back"), ("declined", "Declined")],
                        max_length=10,
                    ),
                ),
                ("message", models.TextField(blank=True)),
                ("at", models.DateTimeField(auto_now_add=True)),
                (
                    "interview",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="decisions", to="interviews.interview"
                    ),
                ),
                (
                    "reviewer",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "ordering": ("id",),
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("verdict", "accepted"), models.Q(("message", ""), _negated=True), _connector="OR"
                        ),
                        name="a_no_comes_with_a_message",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="FindingAnswer",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("code", models.CharField(max_length=60)),
                ("channel", models.CharField(blank=True, max_length=10)),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("accept", "Accept because"),
                            ("ask", "Ask the volunteer"),
                            ("silence", "Silence it in the copies that leave"),
                        ],
                        default="accept",
                        max_length=7,
                    ),
                ),
                ("answer", models.TextField()),
                ("answered_at", models.DateTimeField(auto_now=True)),
                (
                    "answered_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "report",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="answers", to="qc.qcreport"
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(fields=("report", "code", "channel"), name="finding_has_one_answer")
                ],
            },
        ),
        migrations.CreateModel(
            name="Heard",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("spans", models.JSONField(default=list)),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "part",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="heard", to="interviews.part"
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(fields=("part", "by"), name="heard_is_kept_once_for_each_listener")
                ],
            },
        ),
        migrations.CreateModel(
            name="OpeningCheck",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("item", models.CharField(max_length=40)),
                (
                    "verdict",
                    models.CharField(
                        choices=[("heard", "Heard"), ("differs", "Heard otherwise"), ("not-said", "Not said")],
                        max_length=10,
                    ),
                ),
                ("note", models.CharField(blank=True, max_length=300)),
                ("at", models.DateTimeField(auto_now=True)),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "interview",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="opening_checks",
                        to="interviews.interview",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(fields=("interview", "item"), name="opening_is_checked_once_for_an_item")
                ],
            },
        ),
    ]
