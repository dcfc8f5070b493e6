"""What a signer chooses, and what no choice may be."""

from django.db import models
from django.db.models import Q

from intake.releases.models.wordings import Licence

WHILE_CLOSED = "until then only the library's staff and the volunteer who recorded it hear it"


class Access(models.TextChoices):
    """Who may hear the recording, from the freest to the most closed."""

    OPEN = "open", "Open: anyone may hear it"
    ON_SITE = "on-site", "On site only: it may be heard in the library, and is not put online"
    CLOSED = "closed", f"Closed until a date or an event: {WHILE_CLOSED}"


def closed_says_until_when(name: str) -> models.CheckConstraint:
    """A closure has its latest day, and perhaps an event that ends it earlier; nothing else has either."""
    closed, day = Q(access="closed"), Q(closed_until__isnull=False)
    return models.CheckConstraint(condition=(closed & day) | Q(~closed, ~day, closed_event=""), name=name)


def licence_needs_openness(name: str) -> models.CheckConstraint:
    """What anybody may use is open to anybody."""
    return models.CheckConstraint(condition=Q(licence="") | Q(access="open"), name=name)


class Chosen(models.Model):
    """What a signer chooses."""

    access = models.CharField(max_length=10, choices=Access.choices)
    closed_until = models.DateField(null=True, help_text="At the latest.")
    closed_event = models.CharField(max_length=200, blank=True, help_text="What ends the closure earlier.")
    licence = models.CharField(max_length=20, choices=Licence.choices, blank=True)
    name_withheld = models.BooleanField()

    class Meta:
        abstract = True
