"""The accession register: what the library has taken in, under which number."""

from django.conf import settings
from django.db import models

from intake.interviews.models import Interview


class YearCounter(models.Model):
    """The last sequence used in a year; the year 0 is for numbers without a year, whose sequence runs on.

    Its row is locked while a number is given, so that numbers have no gaps and no twins.
    """

    year = models.PositiveIntegerField(primary_key=True)
    last = models.PositiveIntegerField(default=0)

    def __str__(self) -> str:
        return f"{self.year}: {self.last}"


class Accession(models.Model):
    """One accepted interview: its number and what was accepted, as it stood then. A snapshot, never edited."""

    interview = models.OneToOneField(Interview, on_delete=models.PROTECT, related_name="accession")
    year = models.PositiveIntegerField()
    sequence = models.PositiveIntegerField()
    number = models.CharField(max_length=40, unique=True)
    receipt_number = models.CharField(max_length=20, unique=True, help_text="To check the receipt by.")
    accepted_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    accepted_at = models.DateTimeField()
    snapshot = models.JSONField()

    class Meta:
        ordering = ("year", "sequence")
        constraints = [
            models.UniqueConstraint(fields=["year", "sequence"], name="accession_sequence_is_used_once"),
        ]

    def __str__(self) -> str:
        return self.number
