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
            name="BacklogImport",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("folder", models.TextField()),
                ("csv_name", models.CharField(max_length=255)),
                ("csv_sha256", models.CharField(max_length=64)),
                ("rows_in_all", models.PositiveIntegerField()),
                ("started_at", models.DateTimeField(auto_now_add=True)),
                (
                    "finished_at",
                    models.DateTimeField(help_text="Empty while it runs, and after it was interrupted.", null=True),
                ),
                (
                    "started_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "ordering": ("-pk",),
            },
        ),
        migrations.CreateModel(
            name="BacklogRow",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "number",
                    models.PositiveIntegerField(help_text="As the spreadsheet counts: the line of headings is 1."),
                ),
                (
                    "content",
                    models.UUIDField(
                        help_text="Made of its files' digests: they come in once.", null=True, unique=True
                    ),
                ),
                ("bytes", models.PositiveBigIntegerField(default=0)),
                ("note", models.TextField(blank=True, help_text="Why it was not taken, or what is still to do.")),
                ("at", models.DateTimeField(auto_now=True)),
                (
                    "interview",
                    models.OneToOneField(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="backlog_row",
                        to="interviews.interview",
                    ),
                ),
                (
                    "taken_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="rows", to="backlog.backlogimport"
                    ),
                ),
            ],
            options={
                "ordering": ("number",),
            },
        ),
        migrations.AddConstraint(
            model_name="backlogimport",
            constraint=models.UniqueConstraint(fields=("folder", "csv_sha256"), name="folder_and_csv_are_one_import"),
        ),
        migrations.AddConstraint(
            model_name="backlogrow",
            constraint=models.UniqueConstraint(fields=("taken_by", "number"), name="backlog_row_is_told_once"),
        ),
        migrations.AddConstraint(
            model_name="backlogrow",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("content__isnull", False), ("interview__isnull", False)),
                    models.Q(("content", None), ("interview", None), models.Q(("note", ""), _negated=True)),
                    _connector="OR",
                ),
                name="backlog_row_is_an_interview_or_says_why_not",
            ),
        ),
    ]
