"""Release wordings, the releases signed with them, and the session in which one is signed."""

import hashlib

from django.conf import settings
from django.db import models
from django.db.models import Q

from intake.interviews.models import Participant


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
    def sha256(self) -> str:
        return hashlib.sha256(self.text.encode()).hexdigest()


WHILE_CLOSED = "until then only the library's staff and the volunteer who recorded it hear it"


class Access(models.TextChoices):
    """Who may hear the recording, from the freest to the most closed."""

    OPEN = "open", "Open: anyone may hear it"
    ON_SITE = "on-site", "On site only: it may be heard in the library, and is not put online"
    CLOSED = "closed", f"Closed until a date: {WHILE_CLOSED}"


class Method(models.TextChoices):
    DRAWN = "drawn", "Draw my signature"
    TYPED = "typed", "Type my name"


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


class Release(models.Model):
    """What one person signed for one interview.

    The exact wording, the choices, the signature and its evidence. Never changed but for its withdrawal.
    """

    participant = models.ForeignKey(Participant, on_delete=models.PROTECT, related_name="releases")
    number = models.CharField(max_length=20, unique=True, help_text="To check the paper by.")
    signer_name = models.CharField(max_length=200, help_text="As it was when it was signed.")
    wording = models.ForeignKey(Wording, on_delete=models.PROTECT, related_name="+")
    wording_text = models.TextField(help_text="Word for word as shown to the signer.")
    wording_sha256 = models.CharField(max_length=64)
    access = models.CharField(max_length=10, choices=Access.choices)
    closed_until = models.DateField(null=True)
    name_withheld = models.BooleanField()
    method = models.CharField(max_length=10, choices=Method.choices)
    typed_name = models.CharField(max_length=200, blank=True)
    signature_png = models.BinaryField(null=True)
    consented_at = models.DateTimeField(help_text="When signing electronically was agreed to.")
    signed_at = models.DateTimeField()
    address = models.GenericIPAddressField(null=True)
    agent = models.CharField(max_length=300, blank=True)
    session = models.OneToOneField(SigningSession, on_delete=models.PROTECT, related_name="release")
    interview_as_described = models.JSONField()
    withdrawn_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["participant"], condition=Q(withdrawn_at=None), name="participant_has_one_standing_release"
            ),
            models.CheckConstraint(
                condition=Q(access="closed", closed_until__isnull=False)
                | (~Q(access="closed") & Q(closed_until__isnull=True)),
                name="closed_release_says_until_when",
            ),
            models.CheckConstraint(
                condition=Q(method="drawn", signature_png__isnull=False) | (Q(method="typed") & ~Q(typed_name="")),
                name="release_keeps_its_signature",
            ),
        ]

    def __str__(self) -> str:
        return f"release {self.number}"
