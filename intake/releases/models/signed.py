"""What was signed, with its evidence: releases and agreements."""

from datetime import date

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone

from intake.interviews.models import Part, Participant
from intake.releases.models.choices import Chosen, closed_says_until_when, licence_needs_openness
from intake.releases.models.signing import SignedForm, SigningSession
from intake.releases.models.wordings import Wording


class Method(models.TextChoices):
    DRAWN = "drawn", "Draw my signature"
    TYPED = "typed", "Type my name"
    PAPER = "paper", "Sign on paper"
    SPOKEN = "spoken", "Said aloud on the recording"


ON_SCREEN = [(method.value, method.label) for method in (Method.DRAWN, Method.TYPED)]


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
    """One person's consent to take part, before the recording: signed on a screen or on paper, or given aloud on it."""

    participant = models.ForeignKey(Participant, on_delete=models.PROTECT, related_name="agreements")
    # What was said aloud is on the recording, in words of its own.
    wording = models.ForeignKey(Wording, null=True, on_delete=models.PROTECT, related_name="+")
    session = models.OneToOneField(SigningSession, null=True, on_delete=models.PROTECT, related_name="agreement")
    signed_form = models.OneToOneField(SignedForm, null=True, on_delete=models.PROTECT, related_name="agreement")
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
                    signed_form=None,
                    signed_at=None,
                    spoken_in__isnull=False,
                    spoken_at_seconds__gte=0,
                    noted_by__isnull=False,
                )
                | Q(
                    method__in=["drawn", "typed"],
                    wording__isnull=False,
                    session__isnull=False,
                    signed_form=None,
                    signed_at__isnull=False,
                    spoken_in=None,
                    spoken_at_seconds=None,
                    noted_by=None,
                )
                | Q(
                    method="paper",
                    wording__isnull=False,
                    session=None,
                    signed_form__isnull=False,
                    signed_at=None,
                    spoken_in=None,
                    spoken_at_seconds=None,
                    noted_by=None,
                ),
                name="agreement_is_spoken_or_signed_on_a_screen_or_on_paper",
            ),
        ]

    def __str__(self) -> str:
        return f"agreement {self.number}"

    @property
    def signed_on(self) -> date:
        """The day of the signature, or on which it was noted where it was given aloud."""
        if self.signed_form:
            return self.signed_form.signed_on
        return timezone.localdate(self.signed_at or self.noted_at)
