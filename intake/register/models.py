"""The accession register: what the library has taken in, under which number."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from intake.interviews.models import Interview


class YearCounter(models.Model):
    """The last sequence used in a year; the year 0 is for numbers without a year, whose sequence runs on.

    Its row is locked while a number is given, so that numbers have no gaps and no twins.
    """

    year = models.PositiveIntegerField(primary_key=True)
    last = models.PositiveIntegerField(default=0)

    def __str__(self) -> str:
        return f"{self.year}: {self.last}"


class Arrival(models.Model):
    """One hand-in of one interview: which files had arrived, as it stood then. A snapshot, never edited.

    It is no acceptance. After a return the next hand-in makes another, which replaces this one.
    """

    interview = models.ForeignKey(Interview, on_delete=models.PROTECT, related_name="arrivals")
    number = models.CharField(max_length=20, unique=True, help_text="To check the arrival receipt by.")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    replaces = models.OneToOneField("self", null=True, on_delete=models.PROTECT, related_name="replaced_by")
    snapshot = models.JSONField()

    class Meta:
        ordering = ("id",)
        constraints = [
            models.UniqueConstraint(
                fields=["interview"], condition=models.Q(replaces=None), name="interview_first_arrives_once"
            ),
        ]

    def __str__(self) -> str:
        return self.number


class Accession(models.Model):
    """One acceptance of one interview: its number and what was accepted, as it stood then; the snapshot never changes.

    Undone by two people it keeps its row and its number, which is never given again.
    """

    interview = models.ForeignKey(Interview, on_delete=models.PROTECT, related_name="accessions")
    year = models.PositiveIntegerField()
    sequence = models.PositiveIntegerField()
    number = models.CharField(max_length=40, unique=True)
    receipt_number = models.CharField(max_length=20, unique=True, help_text="To check the receipt by.")
    accepted_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    accepted_at = models.DateTimeField()
    snapshot = models.JSONField()
    undo_proposed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    undo_proposed_at = models.DateTimeField(null=True)
    undo_reason = models.TextField(blank=True, help_text="Why the acceptance was a mistake; the giver reads it.")
    undone_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+", help_text="Who confirmed it."
    )
    undone_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ("year", "sequence")
        constraints = [
            models.UniqueConstraint(fields=["year", "sequence"], name="accession_sequence_is_used_once"),
            models.UniqueConstraint(
                fields=["interview"], condition=Q(undone_at=None), name="interview_has_one_standing_accession"
            ),
            models.CheckConstraint(
                condition=Q(undo_proposed_by=None, undo_proposed_at=None, undo_reason="")
                | (Q(undo_proposed_by__isnull=False, undo_proposed_at__isnull=False) & ~Q(undo_reason="")),
                name="proposed_undo_says_who_when_and_why",
            ),
            models.CheckConstraint(
                condition=Q(undone_by=None, undone_at=None)
                | (
                    Q(undone_by__isnull=False, undone_at__isnull=False, undo_proposed_by__isnull=False)
                    & ~Q(undone_by=F("undo_proposed_by"))
                ),
                name="undoing_takes_two_people",
            ),
        ]

    def __str__(self) -> str:
        return self.number

    @property
    def stands(self) -> bool:
        return self.undone_at is None


class CardNotice(models.Model):
    """The volunteer was told by e-mail that the card may be cleared of these recordings; never of others."""

    interview = models.ForeignKey(Interview, on_delete=models.PROTECT, related_name="card_notices")
    at = models.DateTimeField(auto_now_add=True)
    files = models.JSONField(help_text="Name, bytes and SHA-256 of each recording.")
    withdrawn_at = models.DateTimeField(null=True, help_text="When the volunteer was asked to keep the card after all.")

    class Meta:
        ordering = ("id",)

    def __str__(self) -> str:
        return f"card notice of interview {self.interview_id}"

    @property
    def digests(self) -> set[str]:
        return {file["sha256"] for file in self.files}
