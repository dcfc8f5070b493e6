"""What is closed and how it ends; the wish to withdraw; the narrator's turn before acceptance."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from intake.interviews.models import Interview, Part, Participant
from intake.releases.models.signed import Release


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
