import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("files", "0002_append_only"),
        ("interviews", "0001_initial"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="ClosedPassage",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("from_seconds", models.FloatField()),
                ("to_seconds", models.FloatField()),
                ("reason", models.CharField(max_length=1000)),
                ("closed_at", models.DateTimeField(auto_now_add=True)),
                ("opened_at", models.DateTimeField(null=True)),
                ("opened_because", models.CharField(blank=True, max_length=1000)),
                (
                    "closed_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "opened_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "part",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="closed_passages",
                        to="interviews.part",
                    ),
                ),
            ],
            options={
                "ordering": ("from_seconds", "id"),
            },
        ),
        migrations.CreateModel(
            name="NarratorsTurn",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("until", models.DateField(help_text="The last day on which the library waits for an answer.")),
                ("asked_at", models.DateTimeField(auto_now_add=True)),
                ("answered_at", models.DateTimeField(null=True)),
                (
                    "corrections",
                    models.TextField(blank=True, help_text="Names and spellings put right, in the narrator's words."),
                ),
                (
                    "asked_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "participant",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="turns", to="interviews.participant"
                    ),
                ),
            ],
            options={
                "ordering": ("id",),
            },
        ),
        migrations.CreateModel(
            name="PrintedForm",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("number", models.CharField(help_text="To check the paper by.", max_length=20, unique=True)),
                ("text", models.TextField(help_text="Word for word as printed.")),
                ("signer", models.CharField(help_text="As printed.", max_length=200)),
                ("interview_as_described", models.JSONField()),
                ("printed_at", models.DateTimeField(auto_now_add=True)),
                (
                    "participant",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="printed_forms",
                        to="interviews.participant",
                    ),
                ),
                (
                    "printed_by",
                    models.ForeignKey(
                        help_text="Empty where the signer asked for it.",
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
            name="PrivateLink",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "purpose",
                    models.CharField(
                        choices=[
                            ("sign", "To sign"),
                            ("hear", "To hear the recording before it is accepted"),
                            ("copy", "To take a copy of the recording"),
                        ],
                        max_length=10,
                    ),
                ),
                (
                    "moment",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("agreement", "Participation agreement, before the recording"),
                            ("release", "Release, after the recording"),
                        ],
                        help_text="What is to be signed.",
                        max_length=10,
                    ),
                ),
                ("token_digest", models.CharField(max_length=64, unique=True)),
                ("made_at", models.DateTimeField(auto_now_add=True)),
                ("expires_at", models.DateTimeField()),
                ("ended_at", models.DateTimeField(help_text="When it was used up, or replaced by another.", null=True)),
                (
                    "made_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "participant",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="private_links",
                        to="interviews.participant",
                    ),
                ),
            ],
            options={
                "ordering": ("id",),
            },
        ),
        migrations.CreateModel(
            name="Release",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "access",
                    models.CharField(
                        choices=[
                            ("open", "Open: anyone may hear it"),
                            ("on-site", "On site only: it may be heard in the library, and is not put online"),
                            (
                                "closed",
                                "Closed until a date or an event: until then only the library's staff and the volunteer who recorded it hear it",
                            ),
                        ],
                        max_length=10,
                    ),
                ),
                ("closed_until", models.DateField(help_text="At the latest.", null=True)),
                (
                    "closed_event",
                    models.CharField(blank=True, help_text="What ends the closure earlier.", max_length=200),
                ),
                (
                    "licence",
                    models.CharField(
                        blank=True,
                        choices=[
                            (
                                "CC-BY-4.0",
                                "Creative Commons Attribution 4.0: anybody may use it and must name its source",
                            ),
                            (
                                "CC-BY-SA-4.0",
                                "Creative Commons Attribution-ShareAlike 4.0: the same, and what they make is as free",
                            ),
                            (
                                "CC-BY-NC-4.0",
                                "Creative Commons Attribution-NonCommercial 4.0: the same, but not to earn money with it",
                            ),
                            (
                                "CC-BY-NC-ND-4.0",
                                "Creative Commons Attribution-NonCommercial-NoDerivatives 4.0: whole and unchanged only, and not to earn money",
                            ),
                        ],
                        max_length=20,
                    ),
                ),
                ("name_withheld", models.BooleanField()),
                ("number", models.CharField(help_text="To check the paper by.", max_length=20, unique=True)),
                ("signer_name", models.CharField(help_text="As it was when it was signed.", max_length=200)),
                ("wording_text", models.TextField(blank=True, help_text="Word for word as shown to the signer.")),
                ("wording_sha256", models.CharField(blank=True, max_length=64)),
                (
                    "method",
                    models.CharField(
                        choices=[
                            ("drawn", "Draw my signature"),
                            ("typed", "Type my name"),
                            ("paper", "Sign on paper"),
                            ("spoken", "Said aloud on the recording"),
                        ],
                        max_length=10,
                    ),
                ),
                ("typed_name", models.CharField(blank=True, max_length=200)),
                ("signature_png", models.BinaryField(null=True)),
                (
                    "consented_at",
                    models.DateTimeField(help_text="When signing electronically was agreed to.", null=True),
                ),
                ("signed_at", models.DateTimeField(help_text="Empty where it was not signed on a screen.", null=True)),
                ("address", models.GenericIPAddressField(null=True)),
                ("agent", models.CharField(blank=True, max_length=300)),
                ("interview_as_described", models.JSONField()),
                ("withdrawn_at", models.DateTimeField(null=True)),
                (
                    "participant",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="releases",
                        to="interviews.participant",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="Lifting",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("on", models.DateField(help_text="From this day it is not closed any more.")),
                ("because", models.CharField(max_length=1000)),
                ("recorded_at", models.DateTimeField(auto_now_add=True)),
                (
                    "recorded_by",
                    models.ForeignKey(
                        help_text="Empty for a day.",
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "release",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="lifting", to="releases.release"
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="SignedForm",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "access",
                    models.CharField(
                        choices=[
                            ("open", "Open: anyone may hear it"),
                            ("on-site", "On site only: it may be heard in the library, and is not put online"),
                            (
                                "closed",
                                "Closed until a date or an event: until then only the library's staff and the volunteer who recorded it hear it",
                            ),
                        ],
                        max_length=10,
                    ),
                ),
                ("closed_until", models.DateField(help_text="At the latest.", null=True)),
                (
                    "closed_event",
                    models.CharField(blank=True, help_text="What ends the closure earlier.", max_length=200),
                ),
                (
                    "licence",
                    models.CharField(
                        blank=True,
                        choices=[
                            (
                                "CC-BY-4.0",
                                "Creative Commons Attribution 4.0: anybody may use it and must name its source",
                            ),
                            (
                                "CC-BY-SA-4.0",
                                "Creative Commons Attribution-ShareAlike 4.0: the same, and what they make is as free",
                            ),
                            (
                                "CC-BY-NC-4.0",
                                "Creative Commons Attribution-NonCommercial 4.0: the same, but not to earn money with it",
                            ),
                            (
                                "CC-BY-NC-ND-4.0",
                                "Creative Commons Attribution-NonCommercial-NoDerivatives 4.0: whole and unchanged only, and not to earn money",
                            ),
                        ],
                        max_length=20,
                    ),
                ),
                ("name_withheld", models.BooleanField()),
                ("signed_on", models.DateField()),
                (
                    "signed_by",
                    models.CharField(help_text="Whose signature it is, as written on the form.", max_length=200),
                ),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("open", "being put together"),
                            ("waiting", "waits to be confirmed"),
                            ("confirmed", "confirmed"),
                            ("turned-down", "turned down"),
                        ],
                        default="open",
                        max_length=12,
                    ),
                ),
                ("handed_in_at", models.DateTimeField(null=True)),
                ("decided_at", models.DateTimeField(null=True)),
                ("reason", models.TextField(blank=True, help_text="Why it was turned down; the volunteer reads it.")),
                (
                    "decided_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "form",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="signed_forms",
                        to="releases.printedform",
                    ),
                ),
                (
                    "handed_in_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "typed_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "ordering": ("id",),
            },
        ),
        migrations.CreateModel(
            name="Scan",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "form_read",
                    models.CharField(
                        blank=True,
                        help_text="The number of the form whose QR code is on it; empty if none was found.",
                        max_length=20,
                    ),
                ),
                ("taken_back_at", models.DateTimeField(null=True)),
                (
                    "file",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="scans",
                        to="files.storedfile",
                    ),
                ),
                (
                    "upload",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="scan", to="files.upload"
                    ),
                ),
                (
                    "signed_form",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="scans", to="releases.signedform"
                    ),
                ),
            ],
            options={
                "ordering": ("id",),
            },
        ),
        migrations.AddField(
            model_name="release",
            name="signed_form",
            field=models.OneToOneField(
                null=True, on_delete=django.db.models.deletion.PROTECT, related_name="release", to="releases.signedform"
            ),
        ),
        migrations.CreateModel(
            name="SigningSession",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "moment",
                    models.CharField(
                        choices=[
                            ("agreement", "Participation agreement, before the recording"),
                            ("release", "Release, after the recording"),
                        ],
                        max_length=10,
                    ),
                ),
                ("opened_at", models.DateTimeField(auto_now_add=True)),
                ("expires_at", models.DateTimeField()),
                ("used_at", models.DateTimeField(null=True)),
                (
                    "link",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="signing_sessions",
                        to="releases.privatelink",
                    ),
                ),
                (
                    "opened_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "participant",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="signing_sessions",
                        to="interviews.participant",
                    ),
                ),
            ],
        ),
        migrations.AddField(
            model_name="release",
            name="session",
            field=models.OneToOneField(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="release",
                to="releases.signingsession",
            ),
        ),
        migrations.CreateModel(
            name="Wish",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("from_seconds", models.FloatField()),
                ("to_seconds", models.FloatField()),
                ("reason", models.CharField(blank=True, max_length=1000)),
                ("taken_back_at", models.DateTimeField(null=True)),
                ("declined_because", models.CharField(blank=True, max_length=1000)),
                ("decided_at", models.DateTimeField(null=True)),
                (
                    "decided_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "part",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="wishes", to="interviews.part"
                    ),
                ),
                (
                    "passage",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="wishes",
                        to="releases.closedpassage",
                    ),
                ),
                (
                    "turn",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="wishes", to="releases.narratorsturn"
                    ),
                ),
            ],
            options={
                "ordering": ("part", "from_seconds", "id"),
            },
        ),
        migrations.CreateModel(
            name="WithdrawalRequest",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "wished_by",
                    models.CharField(
                        help_text="Whose wish it is: a signer, or somebody whom it harms.", max_length=200
                    ),
                ),
                ("reason", models.TextField()),
                ("asked_at", models.DateTimeField(auto_now_add=True)),
                ("is_granted", models.BooleanField(null=True)),
                ("decided_at", models.DateTimeField(null=True)),
                ("decided_because", models.TextField(blank=True, help_text="Whoever asked reads it.")),
                (
                    "asked_by",
                    models.ForeignKey(
                        help_text="Who wrote it down; empty where it came by a private link.",
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "decided_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "interview",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="withdrawal_requests",
                        to="interviews.interview",
                    ),
                ),
            ],
            options={
                "ordering": ("id",),
            },
        ),
        migrations.CreateModel(
            name="Wording",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "moment",
                    models.CharField(
                        choices=[
                            ("agreement", "Participation agreement, before the recording"),
                            ("release", "Release, after the recording"),
                        ],
                        max_length=10,
                    ),
                ),
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
                ("language", models.CharField(help_text="BCP 47 tag.", max_length=35)),
                ("version", models.PositiveIntegerField()),
                (
                    "basis",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("licence", "Licence: the signer keeps the copyright and permits the library to use it"),
                            ("transfer", "Transfer: the signer hands the copyright over to the library"),
                            (
                                "deposit",
                                "Deposit: the library keeps the recording, and the signer decides on every use",
                            ),
                        ],
                        help_text="Empty for an agreement.",
                        max_length=10,
                    ),
                ),
                ("title", models.CharField(max_length=200)),
                (
                    "text",
                    models.TextField(help_text="Paragraphs are parted by empty lines; placeholders stand in braces."),
                ),
                ("in_force_from", models.DateTimeField(auto_now_add=True)),
            ],
            options={
                "ordering": ("moment", "role", "language", "-version"),
                "constraints": [
                    models.UniqueConstraint(
                        fields=("moment", "role", "language", "version"), name="wording_version_is_used_once"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("basis", ""), ("moment", "agreement")),
                            models.Q(("moment", "release"), models.Q(("basis", ""), _negated=True)),
                            _connector="OR",
                        ),
                        name="release_wording_says_what_it_gives",
                    ),
                ],
            },
        ),
        migrations.AddField(
            model_name="release",
            name="wording",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to="releases.wording"
            ),
        ),
        migrations.AddField(
            model_name="printedform",
            name="wording",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to="releases.wording"
            ),
        ),
        migrations.CreateModel(
            name="Agreement",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("number", models.CharField(help_text="To check the paper by.", max_length=20, unique=True)),
                ("signer_name", models.CharField(help_text="As it was when it was signed.", max_length=200)),
                ("wording_text", models.TextField(blank=True, help_text="Word for word as shown to the signer.")),
                ("wording_sha256", models.CharField(blank=True, max_length=64)),
                (
                    "method",
                    models.CharField(
                        choices=[
                            ("drawn", "Draw my signature"),
                            ("typed", "Type my name"),
                            ("paper", "Sign on paper"),
                            ("spoken", "Said aloud on the recording"),
                        ],
                        max_length=10,
                    ),
                ),
                ("typed_name", models.CharField(blank=True, max_length=200)),
                ("signature_png", models.BinaryField(null=True)),
                (
                    "consented_at",
                    models.DateTimeField(help_text="When signing electronically was agreed to.", null=True),
                ),
                ("signed_at", models.DateTimeField(help_text="Empty where it was not signed on a screen.", null=True)),
                ("address", models.GenericIPAddressField(null=True)),
                ("agent", models.CharField(blank=True, max_length=300)),
                ("interview_as_described", models.JSONField()),
                ("spoken_at_seconds", models.FloatField(null=True)),
                ("noted_at", models.DateTimeField(auto_now_add=True)),
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
                    "participant",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="agreements",
                        to="interviews.participant",
                    ),
                ),
                (
                    "spoken_in",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="agreements",
                        to="interviews.part",
                    ),
                ),
                (
                    "signed_form",
                    models.OneToOneField(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="agreement",
                        to="releases.signedform",
                    ),
                ),
                (
                    "session",
                    models.OneToOneField(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="agreement",
                        to="releases.signingsession",
                    ),
                ),
                (
                    "wording",
                    models.ForeignKey(
                        null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="releases.wording"
                    ),
                ),
            ],
        ),
        migrations.AddConstraint(
            model_name="closedpassage",
            constraint=models.CheckConstraint(
                condition=models.Q(("from_seconds__gte", 0), ("to_seconds__gt", models.F("from_seconds"))),
                name="passage_begins_before_it_ends",
            ),
        ),
        migrations.AddConstraint(
            model_name="closedpassage",
            constraint=models.CheckConstraint(
                condition=models.Q(("reason", ""), _negated=True), name="passage_is_closed_for_a_reason"
            ),
        ),
        migrations.AddConstraint(
            model_name="closedpassage",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("opened_at", None), ("opened_because", ""), ("opened_by", None)),
                    models.Q(
                        ("opened_at__isnull", False),
                        ("opened_by__isnull", False),
                        models.Q(("opened_because", ""), _negated=True),
                    ),
                    _connector="OR",
                ),
                name="passage_is_opened_for_a_reason",
            ),
        ),
        migrations.AddConstraint(
            model_name="narratorsturn",
            constraint=models.UniqueConstraint(
                condition=models.Q(("answered_at", None)), fields=("participant",), name="narrator_has_one_open_turn"
            ),
        ),
        migrations.AddConstraint(
            model_name="privatelink",
            constraint=models.UniqueConstraint(
                condition=models.Q(("ended_at", None)),
                fields=("participant", "purpose", "moment"),
                name="person_has_one_private_link_for_a_purpose",
            ),
        ),
        migrations.AddConstraint(
            model_name="privatelink",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("purpose", "sign"), models.Q(("moment", ""), _negated=True)),
                    models.Q(models.Q(("purpose", "sign"), _negated=True), ("moment", "")),
                    _connector="OR",
                ),
                name="link_to_sign_says_what",
            ),
        ),
        migrations.AddConstraint(
            model_name="lifting",
            constraint=models.CheckConstraint(
                condition=models.Q(("because", ""), _negated=True), name="closure_is_lifted_for_a_reason"
            ),
        ),
        migrations.AddConstraint(
            model_name="signedform",
            constraint=models.UniqueConstraint(
                condition=models.Q(("state__in", ["open", "waiting"])), fields=("form",), name="form_is_in_hand_once"
            ),
        ),
        migrations.AddConstraint(
            model_name="signedform",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("access", "closed"), ("closed_until__isnull", False)),
                    models.Q(
                        models.Q(("access", "closed"), _negated=True),
                        models.Q(("closed_until__isnull", False), _negated=True),
                        ("closed_event", ""),
                    ),
                    _connector="OR",
                ),
                name="closed_form_says_until_when",
            ),
        ),
        migrations.AddConstraint(
            model_name="signedform",
            constraint=models.CheckConstraint(
                condition=models.Q(("licence", ""), ("access", "open"), _connector="OR"),
                name="form_under_a_licence_is_open",
            ),
        ),
        migrations.AddConstraint(
            model_name="signedform",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("handed_in_at", None), ("handed_in_by", None), ("state", "open")),
                    models.Q(
                        models.Q(("state", "open"), _negated=True),
                        ("handed_in_at__isnull", False),
                        ("handed_in_by__isnull", False),
                    ),
                    _connector="OR",
                ),
                name="form_says_who_handed_it_in",
            ),
        ),
        migrations.AddConstraint(
            model_name="signedform",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("decided_at", None), ("decided_by", None), ("state__in", ["open", "waiting"])),
                    models.Q(
                        ("decided_at__isnull", False),
                        ("decided_by__isnull", False),
                        ("state__in", ["confirmed", "turned-down"]),
                    ),
                    _connector="OR",
                ),
                name="decided_form_says_by_whom",
            ),
        ),
        migrations.AddConstraint(
            model_name="signedform",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("state", "turned-down"), models.Q(("reason", ""), _negated=True)),
                    models.Q(models.Q(("state", "turned-down"), _negated=True), ("reason", "")),
                    _connector="OR",
                ),
                name="form_is_turned_down_for_a_reason",
            ),
        ),
        migrations.AddConstraint(
            model_name="wish",
            constraint=models.CheckConstraint(
                condition=models.Q(("from_seconds__gte", 0), ("to_seconds__gt", models.F("from_seconds"))),
                name="wish_begins_before_it_ends",
            ),
        ),
        migrations.AddConstraint(
            model_name="wish",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("decided_at", None), ("decided_by", None), ("declined_because", ""), ("passage", None)),
                    models.Q(
                        models.Q(
                            models.Q(("declined_because", ""), ("passage__isnull", False)),
                            models.Q(("passage", None), models.Q(("declined_because", ""), _negated=True)),
                            _connector="OR",
                        ),
                        ("decided_at__isnull", False),
                        ("decided_by__isnull", False),
                    ),
                    _connector="OR",
                ),
                name="wish_is_met_or_declined_for_a_reason",
            ),
        ),
        migrations.AddConstraint(
            model_name="withdrawalrequest",
            constraint=models.UniqueConstraint(
                condition=models.Q(("decided_at", None)),
                fields=("interview",),
                name="withdrawal_is_asked_once_at_a_time",
            ),
        ),
        migrations.AddConstraint(
            model_name="withdrawalrequest",
            constraint=models.CheckConstraint(
                condition=models.Q(models.Q(("reason", ""), _negated=True), models.Q(("wished_by", ""), _negated=True)),
                name="withdrawal_is_asked_by_somebody_for_a_reason",
            ),
        ),
        migrations.AddConstraint(
            model_name="withdrawalrequest",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("decided_at", None), ("decided_because", ""), ("decided_by", None), ("is_granted", None)),
                    models.Q(
                        ("decided_at__isnull", False),
                        ("decided_by__isnull", False),
                        ("is_granted__isnull", False),
                        models.Q(("decided_because", ""), _negated=True),
                    ),
                    _connector="OR",
                ),
                name="withdrawal_is_decided_for_a_reason",
            ),
        ),
        migrations.AddConstraint(
            model_name="release",
            constraint=models.UniqueConstraint(
                condition=models.Q(("withdrawn_at", None)),
                fields=("participant",),
                name="participant_has_one_standing_release",
            ),
        ),
        migrations.AddConstraint(
            model_name="release",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("access", "closed"), ("closed_until__isnull", False)),
                    models.Q(
                        models.Q(("access", "closed"), _negated=True),
                        models.Q(("closed_until__isnull", False), _negated=True),
                        ("closed_event", ""),
                    ),
                    _connector="OR",
                ),
                name="closed_release_says_until_when",
            ),
        ),
        migrations.AddConstraint(
            model_name="release",
            constraint=models.CheckConstraint(
                condition=models.Q(("licence", ""), ("access", "open"), _connector="OR"),
                name="release_under_a_licence_is_open",
            ),
        ),
        migrations.AddConstraint(
            model_name="release",
            constraint=models.CheckConstraint(
                condition=models.Q(("signer_name", ""), _negated=True), name="release_keeps_its_signers_name"
            ),
        ),
        migrations.AddConstraint(
            model_name="release",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("method", "drawn"), ("signature_png__isnull", False)),
                    models.Q(("method", "typed"), models.Q(("typed_name", ""), _negated=True)),
                    models.Q(("method", "paper"), ("signature_png__isnull", True), ("typed_name", "")),
                    _connector="OR",
                ),
                name="release_keeps_its_signature",
            ),
        ),
        migrations.AddConstraint(
            model_name="release",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(
                        ("consented_at", None),
                        ("method", "paper"),
                        ("session", None),
                        ("signed_at", None),
                        ("signed_form__isnull", False),
                    ),
                    models.Q(
                        models.Q(("method", "paper"), _negated=True),
                        ("consented_at__isnull", False),
                        ("session__isnull", False),
                        ("signed_at__isnull", False),
                        ("signed_form", None),
                    ),
                    _connector="OR",
                ),
                name="release_is_signed_on_paper_or_in_a_session",
            ),
        ),
        migrations.AddConstraint(
            model_name="agreement",
            constraint=models.UniqueConstraint(fields=("participant",), name="participant_agrees_once"),
        ),
        migrations.AddConstraint(
            model_name="agreement",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(
                        ("method", "spoken"),
                        ("noted_by__isnull", False),
                        ("session", None),
                        ("signed_at", None),
                        ("signed_form", None),
                        ("spoken_at_seconds__gte", 0),
                        ("spoken_in__isnull", False),
                        ("wording", None),
                    ),
                    models.Q(
                        ("method__in", ["drawn", "typed"]),
                        ("noted_by", None),
                        ("session__isnull", False),
                        ("signed_at__isnull", False),
                        ("signed_form", None),
                        ("spoken_at_seconds", None),
                        ("spoken_in", None),
                        ("wording__isnull", False),
                    ),
                    models.Q(
                        ("method", "paper"),
                        ("noted_by", None),
                        ("session", None),
                        ("signed_at", None),
                        ("signed_form__isnull", False),
                        ("spoken_at_seconds", None),
                        ("spoken_in", None),
                        ("wording__isnull", False),
                    ),
                    _connector="OR",
                ),
                name="agreement_is_spoken_or_signed_on_a_screen_or_on_paper",
            ),
        ),
    ]
