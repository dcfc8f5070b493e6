import django.db.models.deletion
import django.db.models.functions.text
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("files", "0002_append_only"),
        ("people", "0001_initial"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Collection",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("name", models.CharField(max_length=200)),
            ],
            options={
                "ordering": ("name",),
                "constraints": [
                    models.UniqueConstraint(
                        django.db.models.functions.text.Lower("name"), name="collection_names_differ"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Interview",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("recorded_on", models.DateField()),
                ("place", models.CharField(max_length=200)),
                ("language", models.CharField(help_text="BCP 47 tag.", max_length=35)),
                ("summary", models.TextField(blank=True)),
                ("context_notes", models.TextField(blank=True)),
                ("names_and_spellings", models.TextField(blank=True)),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("draft", "Draft"),
                            ("submitted", "Submitted"),
                            ("in_review", "In review"),
                            ("returned", "Returned"),
                            ("accepted", "Accepted"),
                            ("catalogued", "Catalogued"),
                            ("declined", "Declined"),
                            ("withdrawn", "Withdrawn"),
                            ("taken_down", "Taken down"),
                        ],
                        default="draft",
                        editable=False,
                        max_length=12,
                    ),
                ),
                ("started_at", models.DateTimeField(auto_now_add=True)),
                ("submitted_at", models.DateTimeField(null=True)),
                (
                    "collection",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="interviews",
                        to="interviews.collection",
                    ),
                ),
                (
                    "given_by",
                    models.ForeignKey(
                        help_text="Who gave the recording to the library.",
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="given",
                        to="people.person",
                    ),
                ),
                (
                    "owner",
                    models.ForeignKey(
                        help_text="Who looks after it.",
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="interviews",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "reviewer",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="Attachment",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("photograph", "Photograph"),
                            ("field-notes", "Field notes"),
                            ("transcript", "Transcript"),
                            ("other", "Other document"),
                        ],
                        max_length=12,
                    ),
                ),
                ("caption", models.CharField(blank=True, max_length=500)),
                (
                    "rights_note",
                    models.CharField(blank=True, help_text="Whose it is, and who agreed to it.", max_length=500),
                ),
                ("taken_out_at", models.DateTimeField(null=True)),
                ("taken_out_because", models.CharField(blank=True, max_length=500)),
                (
                    "file",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="attachments",
                        to="files.storedfile",
                    ),
                ),
                (
                    "upload",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="attachment", to="files.upload"
                    ),
                ),
                (
                    "interview",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="attachments",
                        to="interviews.interview",
                    ),
                ),
            ],
            options={
                "ordering": ("id",),
            },
        ),
        migrations.CreateModel(
            name="Part",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("position", models.PositiveIntegerField(help_text="1 is first; empty once taken out.", null=True)),
                (
                    "file",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="parts",
                        to="files.storedfile",
                    ),
                ),
                (
                    "interview",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="parts", to="interviews.interview"
                    ),
                ),
                (
                    "upload",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="part", to="files.upload"
                    ),
                ),
            ],
            options={
                "ordering": ("position", "id"),
            },
        ),
        migrations.CreateModel(
            name="Mark",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("recorder", "Set on the recorder"),
                            ("note", "Note"),
                            ("topic", "Topic"),
                            ("spelling", "Spelling"),
                            ("noise", "Noise"),
                            ("off-the-record", "Off the record"),
                        ],
                        default="recorder",
                        max_length=15,
                    ),
                ),
                ("at_seconds", models.FloatField()),
                ("length_seconds", models.FloatField(default=0)),
                ("label", models.CharField(blank=True, max_length=200)),
                ("note", models.TextField(blank=True)),
                (
                    "set_by",
                    models.ForeignKey(
                        help_text="Who listened.",
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "part",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="marks", to="interviews.part"
                    ),
                ),
            ],
            options={
                "ordering": ("at_seconds", "id"),
            },
        ),
        migrations.CreateModel(
            name="Participant",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "role",
                    models.CharField(
                        choices=[
                            ("narrator", "Narrator"),
                            ("interviewer", "Interviewer"),
                            ("interpreter", "Interpreter"),
                            ("guardian", "Guardian"),
                        ],
                        max_length=12,
                    ),
                ),
                (
                    "needs_guardian",
                    models.BooleanField(
                        default=False,
                        help_text="Under age, or cannot sign alone: local law says who signs with or for them.",
                    ),
                ),
                (
                    "interview",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="participants",
                        to="interviews.interview",
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="participations", to="people.person"
                    ),
                ),
                (
                    "ward",
                    models.ForeignKey(
                        help_text="For whom a guardian signs.",
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="guardians",
                        to="interviews.participant",
                    ),
                ),
            ],
            options={
                "ordering": ("id",),
            },
        ),
        migrations.AddIndex(
            model_name="interview",
            index=models.Index(fields=["state", "submitted_at"], name="interview_by_state"),
        ),
        migrations.AddConstraint(
            model_name="interview",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    (
                        "state__in",
                        [
                            "draft",
                            "submitted",
                            "in_review",
                            "returned",
                            "accepted",
                            "catalogued",
                            "declined",
                            "withdrawn",
                            "taken_down",
                        ],
                    )
                ),
                name="interview_has_a_known_state",
            ),
        ),
        migrations.AddConstraint(
            model_name="attachment",
            constraint=models.CheckConstraint(
                condition=models.Q(("kind__in", ["photograph", "field-notes", "transcript", "other"])),
                name="attachment_has_a_known_kind",
            ),
        ),
        migrations.AddConstraint(
            model_name="attachment",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("taken_out_at", None), ("taken_out_because", "")),
                    models.Q(("taken_out_at__isnull", False), models.Q(("taken_out_because", ""), _negated=True)),
                    _connector="OR",
                ),
                name="attachment_is_taken_out_for_a_reason",
            ),
        ),
        migrations.AddConstraint(
            model_name="part",
            constraint=models.UniqueConstraint(fields=("interview", "position"), name="parts_have_places_of_their_own"),
        ),
        migrations.AddConstraint(
            model_name="mark",
            constraint=models.CheckConstraint(
                condition=models.Q(("at_seconds__gte", 0), ("length_seconds__gte", 0)),
                name="mark_lies_in_the_recording",
            ),
        ),
        migrations.AddConstraint(
            model_name="mark",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("kind", "recorder"), ("set_by", None)),
                    models.Q(models.Q(("kind", "recorder"), _negated=True), models.Q(("set_by", None), _negated=True)),
                    _connector="OR",
                ),
                name="mark_is_the_recorders_or_somebodys",
            ),
        ),
        migrations.AddConstraint(
            model_name="participant",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("role", "guardian"), ("ward__isnull", False)),
                    models.Q(models.Q(("role", "guardian"), _negated=True), ("ward", None)),
                    _connector="OR",
                ),
                name="guardian_signs_for_somebody",
            ),
        ),
        migrations.AddConstraint(
            model_name="participant",
            constraint=models.CheckConstraint(
                condition=models.Q(("needs_guardian", False), ("role", "narrator"), _connector="OR"),
                name="guardian_is_needed_by_narrators_alone",
            ),
        ),
        migrations.AddConstraint(
            model_name="participant",
            constraint=models.UniqueConstraint(
                fields=("interview", "person"), name="person_has_one_role_in_an_interview"
            ),
        ),
    ]
