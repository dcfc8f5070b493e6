"""Release wordings, the releases signed with them, and the session in which one is signed."""

import hashlib
from datetime import date

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone

from intake.files.models import StoredFile, Upload
from intake.interviews.models import Interview, Part, Participant


class Wording(models.Model):
    """The text of a release in one language, one version. A version never changes: a new text is a new version."""

    role = models.CharField(max_length=12, choices=Participant.Role.choices)
    language = models.CharField(max_length=35, help_text="BCP 47 tag.")
    version = models.PositiveIntegerField()
    title = models.CharField(max_length=200)
    text = models.TextField(help_text="Paragraphs are parted by empty lines.")
    in_force_from = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ("role", "language", "-version")
        constraints = [
            models.UniqueConstraint(fields=["role", "language", "version"], name="wording_version_is_used_once"),
        ]

    def __str__(self) -> str:
        return f"{self.title}, version {self.version}"

    @property
    def language_name(self) -> str:
        """The language in words and as its tag, such as "English (en)"; the tag alone where no name is known for it."""
        name = dict(settings.LANGUAGES).get(self.language)
        return f"{name} ({self.language})" if name else self.language

    @property
    def sha256(self) -> str:
        return hashlib.sha256(self.text.encode()).hexdigest()


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


ON_SCREEN = [(method.value, method.label) for method in (Method.DRAWN, Method.TYPED)]


def closed_says_until_when(name: str) -> models.CheckConstraint:
    """A closure has its latest day, and perhaps an event that ends it earlier; nothing else has either."""
    closed, day = Q(access="closed"), Q(closed_until__isnull=False)
    return models.CheckConstraint(condition=(closed & day) | Q(~closed, ~day, closed_event=""), name=name)


class SigningSession(models.Model):
    """A browser session switched to one release and nothing else.

    Opened by handing the device over, spent by signing.
    """

    participant = models.ForeignKey(Participant, on_delete=models.CASCADE, related_name="signing_sessions")
    opened_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    opened_at = models.DateTimeField(auto_now_add=True)
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True)

    def __str__(self) -> str:
        return f"signing by {self.participant}"


class ReleaseForm(models.Model):
    """A release printed for one participant, to be signed on paper. It says which wording was read, by its number."""

    participant = models.ForeignKey(Participant, on_delete=models.CASCADE, related_name="release_forms")
    number = models.CharField(max_length=20, unique=True, help_text="To check the paper by.")
    wording = models.ForeignKey(Wording, on_delete=models.PROTECT, related_name="+")
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


class SignedForm(models.Model):
    """A claim that a release form was signed: its scans, and what is ticked on it as somebody typed it in.

    It becomes a release when the library's staff have looked at the scans and confirmed it.
    """

    form = models.ForeignKey(ReleaseForm, on_delete=models.PROTECT, related_name="signed_forms")
    access = models.CharField(max_length=10, choices=Access.choices)
    closed_until = models.DateField(null=True, help_text="At the latest.")
    closed_event = models.CharField(max_length=200, blank=True, help_text="What ends the closure earlier.")
    name_withheld = models.BooleanField()
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
    taken_back_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ("id",)

    def __str__(self) -> str:
        return self.upload.name

    @property
    def interview(self) -> Interview:
        return self.signed_form.form.participant.interview


class Release(models.Model):
    """What one person signed for one interview.

    The exact wording, the choices, the signature and its evidence: the signing session, or the scans of the paper form.
    Never changed but for its withdrawal.
    """

    participant = models.ForeignKey(Participant, on_delete=models.PROTECT, related_name="releases")
    number = models.CharField(max_length=20, unique=True, help_text="To check the paper by.")
    signer_name = models.CharField(max_length=200, help_text="As it was when it was signed.")
    wording = models.ForeignKey(Wording, on_delete=models.PROTECT, related_name="+")
    wording_text = models.TextField(help_text="Word for word as shown to the signer.")
    wording_sha256 = models.CharField(max_length=64)
    access = models.CharField(max_length=10, choices=Access.choices)
    closed_until = models.DateField(null=True, help_text="At the latest.")
    closed_event = models.CharField(max_length=200, blank=True, help_text="What ends the closure earlier.")
    name_withheld = models.BooleanField()
    method = models.CharField(max_length=10, choices=Method.choices)
    typed_name = models.CharField(max_length=200, blank=True)
    signature_png = models.BinaryField(null=True)
    consented_at = models.DateTimeField(null=True, help_text="When signing electronically was agreed to.")
    signed_at = models.DateTimeField(null=True, help_text="Empty on paper, which says the day alone.")
    address = models.GenericIPAddressField(null=True)
    agent = models.CharField(max_length=300, blank=True)
    session = models.OneToOneField(SigningSession, null=True, on_delete=models.PROTECT, related_name="release")
    signed_form = models.OneToOneField(SignedForm, null=True, on_delete=models.PROTECT, related_name="release")
    interview_as_described = models.JSONField()
    withdrawn_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["participant"], condition=Q(withdrawn_at=None), name="participant_has_one_standing_release"
            ),
            closed_says_until_when("closed_release_says_until_when"),
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
