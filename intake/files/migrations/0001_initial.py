import uuid

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
            name="StoredFile",
            fields=[
                ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ("name", models.CharField(help_text="As the person or recorder named it.", max_length=255)),
                ("media_type", models.CharField(max_length=100)),
                ("bytes", models.PositiveBigIntegerField()),
                ("sha256", models.CharField(max_length=64)),
                ("key", models.CharField(help_text="Its path in each store.", max_length=120, unique=True)),
                ("stored_at", models.DateTimeField(auto_now_add=True)),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("sha256__regex", "^[0-9a-f]{64}$")), name="file_has_a_sha256"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="FixityCheck",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("store", models.CharField(max_length=20)),
                ("at", models.DateTimeField(auto_now_add=True)),
                (
                    "found_sha256",
                    models.CharField(blank=True, help_text="Empty if the copy could not be read.", max_length=64),
                ),
                ("matches", models.BooleanField()),
                (
                    "file",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="checks", to="files.storedfile"
                    ),
                ),
            ],
            options={
                "ordering": ("id",),
            },
        ),
        migrations.CreateModel(
            name="Upload",
            fields=[
                ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ("name", models.CharField(max_length=255)),
                ("media_type", models.CharField(max_length=100)),
                (
                    "expects",
                    models.CharField(
                        choices=[
                            ("sound", "a recording"),
                            ("document", "a photograph or a document"),
                            ("scan", "a scan or photo of a page"),
                        ],
                        default="sound",
                        max_length=10,
                    ),
                ),
                (
                    "metadata",
                    models.TextField(blank=True, help_text="The Upload-Metadata header, given back as it came."),
                ),
                ("length", models.PositiveBigIntegerField()),
                ("offset", models.PositiveBigIntegerField(default=0)),
                (
                    "modified_at",
                    models.DateTimeField(help_text="The file's own date on the computer it came from.", null=True),
                ),
                ("declared_sha256", models.CharField(blank=True, max_length=64)),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("receiving", "on its way"),
                            ("received", "received, not yet compared"),
                            ("stored", "stored"),
                            ("damaged", "arrived damaged"),
                            ("stopped", "stopped"),
                        ],
                        default="receiving",
                        max_length=10,
                    ),
                ),
                ("started_at", models.DateTimeField(auto_now_add=True)),
                ("last_piece_at", models.DateTimeField(null=True)),
                (
                    "file",
                    models.OneToOneField(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="upload",
                        to="files.storedfile",
                    ),
                ),
                (
                    "owner",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("offset__lte", models.F("length"))),
                        name="upload_holds_no_more_than_its_length",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state", "stored"), _negated=True), ("file__isnull", False), _connector="OR"
                        ),
                        name="stored_upload_points_to_its_file",
                    ),
                ],
            },
        ),
    ]
