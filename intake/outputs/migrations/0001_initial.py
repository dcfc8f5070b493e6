import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("files", "0002_append_only"),
        ("interviews", "0001_initial"),
        ("people", "0001_initial"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="HarvestRecord",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("datestamp", models.DateTimeField()),
                ("is_deleted", models.BooleanField()),
                ("sha256", models.CharField(max_length=64)),
                (
                    "collection",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="interviews.collection"
                    ),
                ),
                (
                    "interview",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="harvest_record",
                        to="interviews.interview",
                    ),
                ),
            ],
            options={
                "indexes": [
                    models.Index(fields=["datestamp", "id"], name="harvest_by_datestamp"),
                    models.Index(fields=["collection", "datestamp", "id"], name="harvest_by_collection"),
                ],
            },
        ),
        migrations.CreateModel(
            name="Letter",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("thanks", "Thank-you letter"),
                            ("return", "Return letter"),
                            ("decline", "Decline letter"),
                        ],
                        max_length=10,
                    ),
                ),
                ("language", models.CharField(max_length=35)),
                ("text", models.TextField()),
                (
                    "by_email",
                    models.BooleanField(default=False, help_text="Also sent by e-mail, once it has been made."),
                ),
                ("written_at", models.DateTimeField()),
                (
                    "interview",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="letters", to="interviews.interview"
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="letters", to="people.person"
                    ),
                ),
                (
                    "written_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "ordering": ("id",),
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("kind__in", ["thanks", "return", "decline"])), name="letter_kind_is_known"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("text", ""), _negated=True), name="letter_says_something"
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="LetterText",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("thanks", "Thank-you letter"),
                            ("return", "Return letter"),
                            ("decline", "Decline letter"),
                        ],
                        max_length=10,
                    ),
                ),
                ("language", models.CharField(max_length=35)),
                ("text", models.TextField()),
                ("written_at", models.DateTimeField(auto_now_add=True)),
                (
                    "written_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "ordering": ("id",),
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("kind__in", ["thanks", "return", "decline"])),
                        name="letter_text_kind_is_known",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Output",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("listening-copy", "Listening copy"),
                            ("working-copy", "Working copy"),
                            ("access-copy", "Access copy"),
                            ("described-copy", "Described copy"),
                            ("sound-picture", "Sound picture"),
                            ("release-copy", "Signer's copy of a release"),
                            ("agreement-copy", "Signer's copy of an agreement"),
                            ("arrival-receipt", "Arrival receipt"),
                            ("receipt", "Acceptance receipt"),
                            ("letter", "Letter"),
                            ("quality-report", "Quality report"),
                        ],
                        max_length=20,
                    ),
                ),
                ("subject_id", models.CharField(max_length=64)),
                ("version", models.PositiveIntegerField(default=1)),
                ("made_at", models.DateTimeField(auto_now_add=True)),
                (
                    "file",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="files.storedfile"
                    ),
                ),
                (
                    "interview",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="outputs", to="interviews.interview"
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(fields=("kind", "subject_id", "version"), name="output_is_made_once")
                ],
            },
        ),
        migrations.CreateModel(
            name="Reissue",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("listening-copy", "Listening copy"),
                            ("working-copy", "Working copy"),
                            ("access-copy", "Access copy"),
                            ("described-copy", "Described copy"),
                            ("sound-picture", "Sound picture"),
                            ("release-copy", "Signer's copy of a release"),
                            ("agreement-copy", "Signer's copy of an agreement"),
                            ("arrival-receipt", "Arrival receipt"),
                            ("receipt", "Acceptance receipt"),
                            ("letter", "Letter"),
                            ("quality-report", "Quality report"),
                        ],
                        max_length=20,
                    ),
                ),
                ("subject_id", models.CharField(max_length=64)),
                ("version", models.PositiveIntegerField()),
                ("reason", models.CharField(max_length=500)),
                ("words", models.JSONField(default=dict)),
                ("asked_at", models.DateTimeField()),
                (
                    "asked_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "interview",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="reissues", to="interviews.interview"
                    ),
                ),
            ],
            options={
                "ordering": ("id",),
                "constraints": [
                    models.UniqueConstraint(fields=("kind", "subject_id", "version"), name="version_is_issued_once"),
                    models.CheckConstraint(
                        condition=models.Q(("version__gte", 2)), name="the_first_version_is_no_reissue"
                    ),
                    models.CheckConstraint(condition=models.Q(("reason", ""), _negated=True), name="reissue_says_why"),
                ],
            },
        ),
    ]
