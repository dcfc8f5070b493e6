import uuid

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

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
                (
                    "awaits_digest",
                    models.BooleanField(default=False, help_text="Whether the sender still declares its own digest."),
                ),
                ("declared_sha256", models.CharField(blank=True, max_length=64)),
                (
                    "pieces_verified",
                    models.BooleanField(default=True, help_text="Every byte came with a checksum that matched."),
                ),
                (
                    "is_partial",
                    models.BooleanField(default=False, help_text="One of several that are joined into one."),
                ),
                (
                    "joined_at",
                    models.PositiveIntegerField(help_text="Its place among those joined; 1 is first.", null=True),
                ),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("receiving", "on its way"),
                            ("received", "received, not yet compared"),
                            ("stored", "stored"),
                            ("damaged", "arrived damaged"),
                            ("stopped", "stopped"),
                            ("expired", "expired"),
                        ],
                        default="receiving",
                        max_length=10,
                    ),
                ),
                ("started_at", models.DateTimeField(auto_now_add=True)),
                ("last_piece_at", models.DateTimeField(null=True)),
                (
                    "expires_at",
                    models.DateTimeField(help_text="Until when it may be gone on with; each piece moves it on."),
                ),
                (
                    "multipart_id",
                    models.CharField(blank=True, help_text="The store's name for what it gathers.", max_length=255),
                ),
                (
                    "next_number",
                    models.PositiveIntegerField(
                        default=1, help_text="A number is given to one piece, and never again."
                    ),
                ),
                ("writer", models.CharField(blank=True, help_text="Who writes to it at this moment.", max_length=32)),
                ("writer_until", models.DateTimeField(null=True)),
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
                    "joined_into",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="partials",
                        to="files.upload",
                    ),
                ),
                (
                    "owner",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="Piece",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("number", models.PositiveIntegerField(help_text="The part's number, rising with the offset.")),
                ("bytes", models.PositiveBigIntegerField()),
                (
                    "etag",
                    models.CharField(
                        blank=True, help_text="As the store gave it; empty for a remainder.", max_length=100
                    ),
                ),
                (
                    "upload",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="pieces", to="files.upload"
                    ),
                ),
            ],
            options={
                "ordering": ("number",),
            },
        ),
        migrations.AddConstraint(
            model_name="upload",
            constraint=models.CheckConstraint(
                condition=models.Q(("offset__lte", models.F("length"))), name="upload_holds_no_more_than_its_length"
            ),
        ),
        migrations.AddConstraint(
            model_name="upload",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("state", "stored"), _negated=True), ("file__isnull", False), _connector="OR"
                ),
                name="stored_upload_points_to_its_file",
            ),
        ),
        migrations.AddConstraint(
            model_name="upload",
            constraint=models.UniqueConstraint(
                fields=("joined_into", "joined_at"), name="joined_uploads_have_places_of_their_own"
            ),
        ),
        migrations.AddConstraint(
            model_name="piece",
            constraint=models.UniqueConstraint(fields=("upload", "number"), name="pieces_have_numbers_of_their_own"),
        ),
    ]
