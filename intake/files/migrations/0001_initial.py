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
            name="Audit",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "why",
                    models.CharField(
                        choices=[
                            ("arrival", "on arrival"),
                            ("schedule", "on schedule"),
                            ("asked", "asked for"),
                            ("restored", "after restoring"),
                            ("served", "missing when somebody wanted it"),
                        ],
                        max_length=10,
                    ),
                ),
                (
                    "about",
                    models.CharField(
                        help_text="The night, or the thing whose copies are read: type:id.", max_length=130
                    ),
                ),
                ("started_at", models.DateTimeField(auto_now_add=True)),
                (
                    "listed_at",
                    models.DateTimeField(help_text="When the stores' listings were compared, for a night.", null=True),
                ),
                ("finished_at", models.DateTimeField(null=True)),
                (
                    "budget_bytes",
                    models.PositiveBigIntegerField(
                        help_text="What a night is to read; none for the others.", null=True
                    ),
                ),
                ("copies_read", models.PositiveIntegerField(default=0)),
                ("bytes_read", models.PositiveBigIntegerField(default=0)),
                ("seconds", models.FloatField(default=0, help_text="Time spent reading.")),
                ("bad_copies", models.PositiveIntegerField(default=0)),
                ("ended_because", models.CharField(blank=True, max_length=200)),
                (
                    "by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ("-id",),
            },
        ),
        migrations.CreateModel(
            name="FixityCheck",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("store", models.CharField(max_length=20)),
                ("at", models.DateTimeField(auto_now_add=True)),
                (
                    "why",
                    models.CharField(
                        choices=[
                            ("arrival", "on arrival"),
                            ("schedule", "on schedule"),
                            ("asked", "asked for"),
                            ("restored", "after restoring"),
                            ("served", "missing when somebody wanted it"),
                        ],
                        max_length=10,
                    ),
                ),
                (
                    "found",
                    models.CharField(
                        choices=[
                            ("matches", "matches"),
                            ("differs", "differs"),
                            ("missing", "missing"),
                            ("unreadable", "unreadable"),
                        ],
                        max_length=10,
                    ),
                ),
                (
                    "found_sha256",
                    models.CharField(blank=True, help_text="Empty if the copy could not be read.", max_length=64),
                ),
                ("bytes_read", models.PositiveBigIntegerField(default=0)),
                ("seconds", models.FloatField(default=0)),
                ("told", models.CharField(blank=True, help_text="Why it could not be read.", max_length=500)),
                (
                    "audit",
                    models.ForeignKey(
                        null=True, on_delete=django.db.models.deletion.PROTECT, related_name="checks", to="files.audit"
                    ),
                ),
                (
                    "by",
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
            name="StoredCopy",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("store", models.CharField(max_length=20)),
                ("read_at", models.DateTimeField(null=True)),
                (
                    "found",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("matches", "matches"),
                            ("differs", "differs"),
                            ("missing", "missing"),
                            ("unreadable", "unreadable"),
                        ],
                        max_length=10,
                    ),
                ),
                (
                    "is_suspect",
                    models.BooleanField(
                        default=False, help_text="A listing of the store speaks against it: read it next."
                    ),
                ),
                (
                    "file",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="stored_copies", to="files.storedfile"
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="Incident",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("store", models.CharField(max_length=20)),
                ("told", models.CharField(help_text="What was found, in words.", max_length=500)),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("found", "found, nothing done yet"),
                            ("set-aside", "set aside, to be restored"),
                            ("no-good-copy", "no good copy to restore it from"),
                            ("restored", "restored and read back"),
                            ("right-again", "right again without our doing"),
                        ],
                        default="found",
                        max_length=15,
                    ),
                ),
                (
                    "hindrance",
                    models.CharField(blank=True, help_text="Why it could not be put right yet.", max_length=500),
                ),
                ("found_at", models.DateTimeField(auto_now_add=True)),
                ("closed_at", models.DateTimeField(null=True)),
                ("notified_at", models.DateTimeField(help_text="When the coordinators were written to.", null=True)),
                (
                    "check_found",
                    models.ForeignKey(
                        null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="files.fixitycheck"
                    ),
                ),
                (
                    "file",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="incidents",
                        to="files.storedfile",
                    ),
                ),
            ],
            options={
                "ordering": ("id",),
            },
        ),
        migrations.AddField(
            model_name="fixitycheck",
            name="file",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="checks", to="files.storedfile"
            ),
        ),
        migrations.CreateModel(
            name="UnexpectedObject",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("store", models.CharField(max_length=20)),
                ("key", models.CharField(max_length=1024)),
                ("bytes", models.PositiveBigIntegerField()),
                ("modified_at", models.DateTimeField()),
                ("first_seen_at", models.DateTimeField()),
                ("last_seen_at", models.DateTimeField()),
                ("gone_at", models.DateTimeField(help_text="When a listing no longer had it.", null=True)),
                ("set_aside_at", models.DateTimeField(null=True)),
            ],
            options={
                "ordering": ("store", "key"),
                "constraints": [
                    models.UniqueConstraint(fields=("store", "key"), name="unexpected_object_is_listed_once")
                ],
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
                    "warned_at",
                    models.DateTimeField(help_text="When its owner was told that it expires soon.", null=True),
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
            model_name="audit",
            constraint=models.UniqueConstraint(
                condition=models.Q(("finished_at", None)), fields=("about",), name="one_audit_of_a_thing_is_open"
            ),
        ),
        migrations.AddIndex(
            model_name="storedcopy",
            index=models.Index(fields=["read_at"], name="copy_by_reading"),
        ),
        migrations.AddConstraint(
            model_name="storedcopy",
            constraint=models.UniqueConstraint(fields=("file", "store"), name="file_has_one_copy_in_a_store"),
        ),
        migrations.AddConstraint(
            model_name="storedcopy",
            constraint=models.CheckConstraint(
                condition=models.Q(("found", ""), ("read_at__isnull", False), _connector="OR"),
                name="what_was_found_was_read_at_a_time",
            ),
        ),
        migrations.AddConstraint(
            model_name="incident",
            constraint=models.UniqueConstraint(
                condition=models.Q(("closed_at", None), ("file__isnull", False)),
                fields=("file", "store"),
                name="copy_has_one_open_incident",
            ),
        ),
        migrations.AddConstraint(
            model_name="incident",
            constraint=models.UniqueConstraint(
                condition=models.Q(("closed_at", None), ("file", None)),
                fields=("store",),
                name="store_has_one_open_incident",
            ),
        ),
        migrations.AddConstraint(
            model_name="incident",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("closed_at", None), ("state__in", ["found", "set-aside", "no-good-copy"])),
                    models.Q(("closed_at__isnull", False), ("state__in", ["restored", "right-again"])),
                    _connector="OR",
                ),
                name="incident_is_closed_when_it_is_right",
            ),
        ),
        migrations.AddConstraint(
            model_name="fixitycheck",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("found__in", ["missing", "unreadable"]),
                    models.Q(("found_sha256", ""), _negated=True),
                    _connector="OR",
                ),
                name="reading_has_a_digest",
            ),
        ),
        migrations.AddConstraint(
            model_name="fixitycheck",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("found", "unreadable"), _negated=True),
                    models.Q(("told", ""), _negated=True),
                    _connector="OR",
                ),
                name="unreadable_says_why",
            ),
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
