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
            name="Event",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("at", models.DateTimeField()),
                ("action", models.CharField(help_text="A value of audit.actions.Action.", max_length=40)),
                ("subject_type", models.CharField(max_length=60)),
                ("subject_id", models.CharField(max_length=64)),
                (
                    "thread",
                    models.CharField(
                        db_index=True, help_text="The thing whose story this belongs to: type:id.", max_length=130
                    ),
                ),
                ("outcome", models.CharField(choices=[("success", "done"), ("failure", "failed")], max_length=10)),
                ("details", models.JSONField(default=dict)),
                ("names_digest", models.CharField(blank=True, max_length=64)),
                (
                    "actor",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ("id",),
            },
        ),
        migrations.CreateModel(
            name="EventNames",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("salt", models.CharField(max_length=64)),
                ("names", models.JSONField()),
                (
                    "event",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="names", to="audit.event"
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="Seal",
            fields=[
                ("number", models.BigIntegerField(primary_key=True, serialize=False)),
                ("previous", models.CharField(max_length=64)),
                ("digest", models.CharField(max_length=64, unique=True)),
                (
                    "event",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="seal", to="audit.event"
                    ),
                ),
            ],
            options={
                "ordering": ("number",),
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("number__gte", 1)), name="seals_are_numbered_from_one")
                ],
            },
        ),
    ]
