import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("people", "0001_initial"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Kit",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("number", models.CharField(max_length=20, unique=True)),
                ("contents", models.TextField(help_text="One thing a line.")),
            ],
            options={
                "ordering": ("number",),
            },
        ),
        migrations.CreateModel(
            name="Loan",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("lent_at", models.DateTimeField(auto_now_add=True)),
                ("due_on", models.DateField()),
                ("returned_at", models.DateTimeField(null=True)),
                ("condition_back", models.TextField(blank=True)),
                (
                    "card",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("cleared", "Cleared"),
                            ("not-cleared", "Not cleared"),
                            ("not-looked-at", "Not looked at"),
                        ],
                        help_text="Empty until the kit is back.",
                        max_length=15,
                    ),
                ),
                (
                    "told_of_card",
                    models.TextField(blank=True, help_text="What the site said of the recordings at the return check."),
                ),
                ("code_sha256", models.CharField(max_length=64, unique=True)),
                ("code_expires_at", models.DateTimeField()),
                ("code_used_at", models.DateTimeField(null=True)),
                (
                    "borrower",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="loans", to="people.person"
                    ),
                ),
                (
                    "kit",
                    models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="loans", to="kits.kit"),
                ),
                (
                    "lent_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("returned_at", None)), fields=("kit",), name="kit_has_one_open_loan"
                    )
                ],
            },
        ),
    ]
