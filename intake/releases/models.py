"""Release wordings, the releases signed with them, and the session in which one is signed."""

from datetime import date

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone

from intake.files.models import StoredFile, Upload
from intake.interviews.models import Interview, Part, Participant


class Moment(models.TextChoices):
    """Consent to take part comes before the recording; what may be done with it is decided after it."""

    AGREEMENT = "agreement", "Participation agreement, before the recording"
    RELEASE = "release", "Release, after the recording"


class Basis(models.TextChoices):
    """What a release gives the library."""

    LICENCE = "licence", "Licence: the signer keeps the copyright and permits the library to use it"
    TRANSFER = "transfer", "Transfer: the signer hands the copyright over to the library"
    DEPOSIT = "deposit", "Deposit: the library keeps the recording, and the signer decides on every use"


class Licence(models.TextChoices):
    """Public licences that a signer may choose, by their SPDX identifiers."""

    CC_BY = "CC-BY-4.0", "Creative Commons Attribution 4.0: anybody may use it and must name its source"
    CC_BY_SA = "CC-BY-SA-4.0", "Creative Commons Attribution-ShareAlike 4.0: the same, and what they make is as free"
    CC_BY_NC = "CC-BY-NC-4.0", "Creative Commons Attribution-NonCommercial 4.0: the same, but not to earn money with it"
    CC_BY_NC_ND = (
        "CC-BY-NC-ND-4.0",
        "Creative Commons Attribution-NonCommercial-NoDerivatives 4.0: whole and unchanged only, and not to earn money",
    )


class Wording(models.Model):
    """The text of a release or agreement in one language, one version.

    A version never changes: a new text is a new version.
    """

    moment = models.CharField(max_length=10, choices=Moment.choices)
    role = models.CharField(max_length=12, choices=Participant.Role.choices)
    language = models.CharField(max_length=35, help_text="BCP 47 tag.")
    version = models.PositiveIntegerField()
    basis = models.CharField(max_length=10, choices=Basis.choices, blank=True, help_text="Empty for an agreement.")
    title = models.CharField(max_length=200)
    text = models.TextField(help_text="Paragraphs are parted by empty lines; placeholders stand in braces.")
    in_force_from = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ("moment", "role", "language", "-version")
        constraints = [
            models.UniqueConstraint(
                fields=["moment", "role", "language", "version"], name="wording_version_is_used_once"
            ),
            models.CheckConstraint(
                condition=Q(moment="agreement", basis="") | (Q(moment="release") & ~Q(basis="")),
                name="release_wording_says_what_it_gives",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.title}, version {self.version}"

    @property
    def language_name(self) -> str:
        """The language in words and as its tag, such as "English (en)"; the tag alone where no name is known for it."""
        name = dict(settings.LANGUAGES).get(self.language)
        return f"{name} ({self.language})" if name else self.language

    @property
    def offers_licences(self) -> bool:
        """Whether the signer may put it under a public licence: only who keeps the copyright can."""
        return self.basis == Basis.LICENCE


WHILE_CLOSED = "until then only the library's staff and the volunteer who recorded it hear it"


class Access(models.TextChoices):
    """Who may hear the recording, from the freest to the most closed."""

    OPEN = "open", "Open: anyone may hear it"
    ON_SITE = "on-site", "On site only: it may be heard in the library, and is not put online"
    CLOSED = "closed", f"Closed until a date or an event: {WHILE_CLOSED}"


class Method(models.TextChoices):
    DRAWN = "drawn", "Draw my signature"
    TYPED = "typed", "Type my name"
    PAPER = "paper", "Sign on paper"
    SPOKEN = "spoken", "Said aloud on the recording"


ON_SCREEN = [(method.value, method.label) for method in (Method.DRAWN, Method.TYPED)]


def closed_says_until_when(name: str) -> models.CheckConstraint:
    """A closure has its latest day, and perhaps an event that ends it earlier; nothing else has either."""
    closed, day = Q(access="closed"), Q(closed_until__isnull=False)
    return models.CheckConstraint(condition=(closed & day) | Q(~closed, ~day, closed_event=""), name=name)


def licence_needs_openness(name: str) -> models.CheckConstraint:
    """What anybody may use is open to anybody."""
    return models.CheckConstraint(condition=Q(licence="") | Q(access="open"), name=name)


class Purpose(models.TextChoices):
    SIGN = "sign", "To sign"
    HEAR = "hear", "To hear the recording before it is accepted"
    COPY = "copy", "To take a copy of the recording"


class PrivateLink(models.Model):
    """A link for one person and one purpose, sent by e-mail or given by hand. Only the digest of its secret is kept."""

    participant = models.ForeignKey(Participant, on_delete=models.CASCADE, related_name="private_links")
    purpose = models.CharField(max_length=10, choices=Purpose.choices)
    moment = models.CharField(max_length=10, choices=Moment.choices, blank=True, help_text="What is to be signed.")
    token_digest = models.CharField(max_length=64, unique=True)
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField(auto_now_add=True)
    expires_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, help_text="When it was used up, or replaced by another.")

    class Meta:
        ordering = ("id",)
        constraints = [
            models.UniqueConstraint(
                fields=["participant", "purpose", "moment"],
                condition=Q(ended_at=None),
                name="person_has_one_private_link_for_a_purpose",
            ),
            models.CheckConstraint(
                condition=(Q(purpose="sign") & ~Q(moment="")) | (~Q(purpose="sign") & Q(moment="")),
                name="link_to_sign_says_what",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_purpose_display()}: {self.participant}"


class SigningSession(models.Model):
    """A browser session switched to one release or agreement and nothing else.

    Opened by handing the device over or by a private link, spent by signing.
    """

    participant = models.ForeignKey(Participant, on_delete=models.CASCADE, related_name="signing_sessions")
    moment = models.CharField(max_length=10, choices=Moment.choices)
    link = models.ForeignKey(PrivateLink, null=True, on_delete=models.CASCADE, related_name="signing_sessions")
    opened_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    opened_at = models.DateTimeField(auto_now_add=True)
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True)

    def __str__(self) -> str:
        return f"signing by {self.participant}"

    @property
    def paper(self) -> str:
        """What is signed, in a word."""
        return "agreement" if self.moment == Moment.AGREEMENT else "release"


class ReleaseForm(models.Model):
    """A release printed for one participant, to be signed on paper. It says which wording was read, by its number."""

    participant = models.ForeignKey(Participant, on_delete=models.CASCADE, related_name="release_forms")
    number = models.CharField(max_length=20, unique=True, help_text="To check the paper by.")
    wording = models.ForeignKey(Wording, on_delete=models.PROTECT, related_name="+")
    text = models.TextField(help_text="Word for word as printed.")
    signer = models.CharField(max_length=200, help_text="As printed.")
    interview_as_described = models.JSONField()
    printed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        null=True,
        on_delete=models.PROTECT,
        related_name="+",
        help_text="Empty where the signer asked for it.",
    )
    printed_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ("-id",)

    def __str__(self) -> str:
        return self.number


class FormState(models.TextChoices):
    OPEN = "open", "being put together"
    WAITING = "waiting", "waits to be confirmed"
    CONFIRMED = "confirmed", "confirmed"
    TURNED_DOWN = "turned-down", "turned down"


class Chosen(models.Model):
    """What a signer chooses."""

    access = models.CharField(max_length=10, choices=Access.choices)
    closed_until = models.DateField(null=True, help_text="At the latest.")
    closed_event = models.CharField(max_length=200, blank=True, help_text="What ends the closure earlier.")
    licence = models.CharField(max_length=20, choices=Licence.choices, blank=True)
    name_withheld = models.BooleanField()

    class Meta:
        abstract = True


class SignedForm(Chosen):
    """A claim that a release form was signed: its scans, and what is ticked on it as somebody typed it in.

    It becomes a release when the library's staff have looked at the scans and confirmed it.
    """

    form = models.ForeignKey(ReleaseForm, on_delete=models.PROTECT, related_name="signed_forms")
    signed_on = models.DateField()
    signed_by = models.CharField(max_length=200, help_text="Whose signature it is, as written on the form.")
    typed_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    state = models.CharField(max_length=12, choices=FormState.choices, default=FormState.OPEN)
    handed_in_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    handed_in_at = models.DateTimeField(null=True)
    decided_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    decided_at = models.DateTimeField(null=True)
    reason = models.TextField(blank=True, help_text="Why it was turned down; the volunteer reads it.")

    class Meta:
        ordering = ("id",)
        constraints = [
            models.UniqueConstraint(
                fields=["form"], condition=Q(state__in=["open", "waiting"]), name="form_is_in_hand_once"
            ),
            closed_says_until_when("closed_form_says_until_when"),
            licence_needs_openness("form_under_a_licence_is_open"),
            models.CheckConstraint(
                condition=Q(state="open", handed_in_at=None, handed_in_by=None)
                | (~Q(state="open") & Q(handed_in_at__isnull=False, handed_in_by__isnull=False)),
                name="form_says_who_handed_it_in",
            ),
            models.CheckConstraint(
                condition=Q(state__in=["open", "waiting"], decided_by=None, decided_at=None)
                | Q(state__in=["confirmed", "turned-down"], decided_by__isnull=False, decided_at__isnull=False),
                name="decided_form_says_by_whom",
            ),
            models.CheckConstraint(
                condition=(Q(state="turned-down") & ~Q(reason="")) | (~Q(state="turned-down") & Q(reason="")),
                name="form_is_turned_down_for_a_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"signed form {self.form}"

    @property
    def participant(self) -> Participant:
        return self.form.participant


class Scan(models.Model):
    """A page of a signed form as a photo, scan or PDF. One taken back before the form is handed in keeps its row."""

    signed_form = models.ForeignKey(SignedForm, on_delete=models.PROTECT, related_name="scans")
    upload = models.OneToOneField(Upload, on_delete=models.PROTECT, related_name="scan")
    file = models.ForeignKey(StoredFile, null=True, on_delete=models.PROTECT, related_name="scans")
    form_read = models.CharField(
        max_length=20, blank=True, help_text="The number of the form whose QR code is on it; empty if none was found."
    )
    taken_back_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ("id",)

    def __str__(self) -> str:
        return self.upload.name

    @property
    def is_of_another_form(self) -> bool:
        """Whether the QR code on it is that of another form than the one it was handed in for."""
        return bool(self.form_read) and self.form_read != self.signed_form.form.number

    @property
    def interview(self) -> Interview:
        return self.signed_form.form.participant.interview


class Signed(models.Model):
    """What somebody agreed to, word for word, with its evidence."""

    number = models.CharField(max_length=20, unique=True, help_text="To check the paper by.")
    signer_name = models.CharField(max_length=200, help_text="As it was when it was signed.")
    wording_text = models.TextField(blank=True, help_text="Word for word as shown to the signer.")
    wording_sha256 = models.CharField(max_length=64, blank=True)
    method = models.CharField(max_length=10, choices=Method.choices)
    typed_name = models.CharField(max_length=200, blank=True)
    signature_png = models.BinaryField(null=True)
    consented_at = models.DateTimeField(null=True, help_text="When signing electronically was agreed to.")
    signed_at = models.DateTimeField(null=True, help_text="Empty where it was not signed on a screen.")
    address = models.GenericIPAddressField(null=True)
    agent = models.CharField(max_length=300, blank=True)
    interview_as_described = models.JSONField()

    class Meta:
        abstract = True

    @property
    def how(self) -> str:
        """How it was signed, as told afterwards."""
        return {
            Method.DRAWN: "Drawn by hand on the screen",
            Method.TYPED: f"Typed: {self.typed_name}",
            Method.PAPER: "By hand on paper",
            Method.SPOKEN: "Said aloud on the recording",
        }[Method(self.method)]


class Release(Signed, Chosen):
    """What one person signed for one interview: the exact wording, the choices, the signature and its evidence.

    The evidence is the signing session, or the scans of the paper form. Never changed but for its withdrawal.
    """

    participant = models.ForeignKey(Participant, on_delete=models.PROTECT, related_name="releases")
    wording = models.ForeignKey(Wording, on_delete=models.PROTECT, related_name="+")
    session = models.OneToOneField(SigningSession, null=True, on_delete=models.PROTECT, related_name="release")
    signed_form = models.OneToOneField(SignedForm, null=True, on_delete=models.PROTECT, related_name="release")
    withdrawn_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["participant"], condition=Q(withdrawn_at=None), name="participant_has_one_standing_release"
            ),
            closed_says_until_when("closed_release_says_until_when"),
            licence_needs_openness("release_under_a_licence_is_open"),
            models.CheckConstraint(condition=~Q(signer_name=""), name="release_keeps_its_signers_name"),
            models.CheckConstraint(
                condition=Q(method="drawn", signature_png__isnull=False)
                | (Q(method="typed") & ~Q(typed_name=""))
                | Q(method="paper", signature_png__isnull=True, typed_name=""),
                name="release_keeps_its_signature",
            ),
            models.CheckConstraint(
                condition=Q(method="paper", signed_form__isnull=False, session=None, consented_at=None, signed_at=None)
                | Q(
                    ~Q(method="paper"),
                    signed_form=None,
                    session__isnull=False,
                    consented_at__isnull=False,
                    signed_at__isnull=False,
                ),
                name="release_is_signed_on_paper_or_in_a_session",
            ),
        ]

    def __str__(self) -> str:
        return f"release {self.number}"

    @property
    def signed_on(self) -> date:
        """The day of the signature: by the library's calendar on the screen, as written on paper."""
        if self.signed_form:
            return self.signed_form.signed_on
        assert self.signed_at is not None, "the constraint release_is_signed_on_paper_or_in_a_session"
        return timezone.localdate(self.signed_at)


class Agreement(Signed):
    """One person's consent to take part, before the recording: signed on a screen, or given aloud on the recording."""

    participant = models.ForeignKey(Participant, on_delete=models.PROTECT, related_name="agreements")
    # What was said aloud is on the recording, in words of its own.
    wording = models.ForeignKey(Wording, null=True, on_delete=models.PROTECT, related_name="+")
    session = models.OneToOneField(SigningSession, null=True, on_delete=models.PROTECT, related_name="agreement")
    spoken_in = models.ForeignKey(Part, null=True, on_delete=models.PROTECT, related_name="agreements")
    spoken_at_seconds = models.FloatField(null=True)
    noted_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    noted_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["participant"], name="participant_agrees_once"),
            models.CheckConstraint(
                condition=Q(
                    method="spoken",
                    wording=None,
                    session=None,
                    signed_at=None,
                    spoken_in__isnull=False,
                    spoken_at_seconds__gte=0,
                    noted_by__isnull=False,
                )
                | Q(
                    method__in=["drawn", "typed"],
                    wording__isnull=False,
                    session__isnull=False,
                    signed_at__isnull=False,
                    spoken_in=None,
                    spoken_at_seconds=None,
                    noted_by=None,
                ),
                name="agreement_is_spoken_or_signed_in_a_session",
            ),
        ]

    def __str__(self) -> str:
        return f"agreement {self.number}"


class Lifting(models.Model):
    """The end of one release's closure: its latest day came, or staff recorded that its event had happened."""

    release = models.OneToOneField(Release, on_delete=models.PROTECT, related_name="lifting")
    on = models.DateField(help_text="From this day it is not closed any more.")
    because = models.CharField(max_length=1000)
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+", help_text="Empty for a day."
    )
    recorded_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(because=""), name="closure_is_lifted_for_a_reason"),
        ]

    def __str__(self) -> str:
        return f"lifted on {self.on}"


class ClosedPassage(models.Model):
    """A stretch of a part that nobody outside the library hears; silent in every copy that leaves.

    One that was opened again keeps its row.
    """

    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="closed_passages")
    from_seconds = models.FloatField()
    to_seconds = models.FloatField()
    reason = models.CharField(max_length=1000)
    closed_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    closed_at = models.DateTimeField(auto_now_add=True)
    opened_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    opened_at = models.DateTimeField(null=True)
    opened_because = models.CharField(max_length=1000, blank=True)

    class Meta:
        ordering = ("from_seconds", "id")
        constraints = [
            models.CheckConstraint(
                condition=Q(from_seconds__gte=0, to_seconds__gt=models.F("from_seconds")),
                name="passage_begins_before_it_ends",
            ),
            models.CheckConstraint(condition=~Q(reason=""), name="passage_is_closed_for_a_reason"),
            models.CheckConstraint(
                condition=Q(opened_at=None, opened_by=None, opened_because="")
                | (Q(opened_at__isnull=False, opened_by__isnull=False) & ~Q(opened_because="")),
                name="passage_is_opened_for_a_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.from_seconds:.1f} s to {self.to_seconds:.1f} s"

    @property
    def interview(self) -> Interview:
        return self.part.interview


class WithdrawalRequest(models.Model):
    """The wish that an accepted interview be withdrawn, and what the library's staff decided.

    Until they have decided, nobody else hears the interview.
    """

    interview = models.ForeignKey(Interview, on_delete=models.PROTECT, related_name="withdrawal_requests")
    wished_by = models.CharField(max_length=200, help_text="Whose wish it is: a signer, or somebody whom it harms.")
    reason = models.TextField()
    asked_at = models.DateTimeField(auto_now_add=True)
    asked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        null=True,
        on_delete=models.PROTECT,
        related_name="+",
        help_text="Who wrote it down; empty where it came by a private link.",
    )
    is_granted = models.BooleanField(null=True)
    decided_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    decided_at = models.DateTimeField(null=True)
    decided_because = models.TextField(blank=True, help_text="Whoever asked reads it.")

    class Meta:
        ordering = ("id",)
        constraints = [
            models.UniqueConstraint(
                fields=["interview"], condition=Q(decided_at=None), name="withdrawal_is_asked_once_at_a_time"
            ),
            models.CheckConstraint(
                condition=~Q(reason="") & ~Q(wished_by=""), name="withdrawal_is_asked_by_somebody_for_a_reason"
            ),
            models.CheckConstraint(
                condition=Q(is_granted=None, decided_by=None, decided_at=None, decided_because="")
                | (
                    Q(is_granted__isnull=False, decided_by__isnull=False, decided_at__isnull=False)
                    & ~Q(decided_because="")
                ),
                name="withdrawal_is_decided_for_a_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"withdrawal asked for by {self.wished_by}"


class NarratorsTurn(models.Model):
    """A narrator is asked to hear the recording before it is accepted; the library waits for the answer until a day."""

    participant = models.ForeignKey(Participant, on_delete=models.PROTECT, related_name="turns")
    until = models.DateField(help_text="The last day on which the library waits for an answer.")
    asked_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField(auto_now_add=True)
    answered_at = models.DateTimeField(null=True)
    corrections = models.TextField(blank=True, help_text="Names and spellings put right, in the narrator's words.")

    class Meta:
        ordering = ("id",)
        constraints = [
            models.UniqueConstraint(
                fields=["participant"], condition=Q(answered_at=None), name="narrator_has_one_open_turn"
            ),
        ]

    def __str__(self) -> str:
        return f"turn of {self.participant.person}"


class Wish(models.Model):
    """A passage that a narrator wishes to be closed, and what staff decided."""

    turn = models.ForeignKey(NarratorsTurn, on_delete=models.PROTECT, related_name="wishes")
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="wishes")
    from_seconds = models.FloatField()
    to_seconds = models.FloatField()
    reason = models.CharField(max_length=1000, blank=True)
    taken_back_at = models.DateTimeField(null=True)
    passage = models.ForeignKey(ClosedPassage, null=True, on_delete=models.PROTECT, related_name="wishes")
    declined_because = models.CharField(max_length=1000, blank=True)
    decided_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    decided_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ("part", "from_seconds", "id")
        constraints = [
            models.CheckConstraint(
                condition=Q(from_seconds__gte=0, to_seconds__gt=models.F("from_seconds")),
                name="wish_begins_before_it_ends",
            ),
            models.CheckConstraint(
                condition=Q(decided_at=None, decided_by=None, passage=None, declined_because="")
                | Q(
                    Q(passage__isnull=False, declined_because="") | (Q(passage=None) & ~Q(declined_because="")),
                    decided_at__isnull=False,
                    decided_by__isnull=False,
                ),
                name="wish_is_met_or_declined_for_a_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.from_seconds:.1f} s to {self.to_seconds:.1f} s"
