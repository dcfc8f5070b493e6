"""How somebody comes to sign: private links, signing sessions, and forms signed on paper with their scans."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from intake.files.models import StoredFile, Upload
from intake.interviews.models import Interview, Participant
from intake.releases.models.choices import Chosen, closed_says_until_when, licence_needs_openness
from intake.releases.models.wordings import Moment, Wording


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


class PrintedForm(models.Model):
    """A release or agreement printed for one participant, to be signed on paper. Its number says what was read."""

    participant = models.ForeignKey(Participant, on_delete=models.CASCADE, related_name="printed_forms")
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

    @property
    def moment(self) -> Moment:
        return Moment(self.wording.moment)


class FormState(models.TextChoices):
    OPEN = "open", "being put together"
    WAITING = "waiting", "waits to be confirmed"
    CONFIRMED = "confirmed", "confirmed"
    TURNED_DOWN = "turned-down", "turned down"


class SignedForm(Chosen):
    """A claim that a printed form was signed: its scans, and what is ticked on it as somebody typed it in.

    It becomes a release or an agreement when the library's staff have looked at the scans and confirmed it. Nothing is
    chosen on an agreement.
    """

    form = models.ForeignKey(PrintedForm, on_delete=models.PROTECT, related_name="signed_forms")
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

    @property
    def is_agreement(self) -> bool:
        return self.form.moment == Moment.AGREEMENT


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
