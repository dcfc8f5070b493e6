import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Person",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("name", models.CharField(max_length=200)),
                ("email", models.EmailField(blank=True, max_length=254, verbose_name="e-mail address")),
                ("noted_at", models.DateTimeField(auto_now_add=True)),
                (
                    "merged_into",
                    models.ForeignKey(
                        help_text="The record that stands for this one.",
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="twins",
                        to="people.person",
                    ),
                ),
                (
                    "noted_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "user",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="person",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="Invitation",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "role",
                    models.CharField(
                        choices=[
                            ("volunteer", "Volunteer"),
                            ("archivist", "Archivist"),
                            ("coordinator", "Coordinator"),
                        ],
                        max_length=20,
                    ),
                ),
                ("token_sha256", models.CharField(max_length=64, unique=True)),
                ("invited_at", models.DateTimeField(auto_now_add=True)),
                ("expires_at", models.DateTimeField()),
                ("used_at", models.DateTimeField(null=True)),
                (
                    "invited_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="invitations", to="people.person"
                    ),
                ),
            ],
        ),
        migrations.AddConstraint(
            model_name="person",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("merged_into", None), models.Q(("merged_into", models.F("pk")), _negated=True), _connector="OR"
                ),
                name="person_is_not_merged_into_itself",
            ),
        ),
        migrations.AddConstraint(
            model_name="person",
            constraint=models.CheckConstraint(
                condition=models.Q(("merged_into", None), ("user", None), _connector="OR"),
                name="merged_person_keeps_no_account",
            ),
        ),
        migrations.AddConstraint(
            model_name="invitation",
            constraint=models.CheckConstraint(
                condition=models.Q(("role__in", ["volunteer", "archivist", "coordinator"])),
                name="invitation_has_a_known_role",
            ),
        ),
    ]
