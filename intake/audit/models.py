"""What happened, for ever: events, the names in them, and the seals that chain them."""

from django.conf import settings
from django.db import models

from intake.audit.actions import Action


class Outcome(models.TextChoices):
    SUCCESS = "success", "done"
    FAILURE = "failure", "failed"


class Event(models.Model):
    """Who did what to which thing when, with what outcome.

    The database refuses to change or delete it (see triggers.py).
    """

    at = models.DateTimeField()
    actor = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    action = models.CharField(max_length=40, help_text="A value of audit.actions.Action.")
    subject_type = models.CharField(max_length=60)
    subject_id = models.CharField(max_length=64)
    thread = models.CharField(
        max_length=130, db_index=True, help_text="The thing whose story this belongs to: type:id."
    )
    outcome = models.CharField(max_length=10, choices=Outcome.choices)
    details = models.JSONField(default=dict)
    names_digest = models.CharField(max_length=64, blank=True)

    class Meta:
        ordering = ("id",)

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d %H:%M} {self.action} {self.subject_type} {self.subject_id}"

    @property
    def sentence(self) -> str:
        return Action(self.action).label

    @property
    def words(self) -> list[str]:
        """Whom or what it was about and what was said, as far as that has not been erased."""
        return list(self.names.names.values()) if hasattr(self, "names") else []


class EventNames(models.Model):
    """Names and free words of an event, apart so that they can be erased; the event keeps their salted digest."""

    event = models.OneToOneField(Event, on_delete=models.PROTECT, related_name="names")
    salt = models.CharField(max_length=64)
    names = models.JSONField()

    def __str__(self) -> str:
        return f"names of event {self.event_id}"


class Seal(models.Model):
    """The place of one event in the chain; each carries the digest of the one before."""

    number = models.BigIntegerField(primary_key=True)
    event = models.OneToOneField(Event, on_delete=models.PROTECT, related_name="seal")
    previous = models.CharField(max_length=64)
    digest = models.CharField(max_length=64, unique=True)

    class Meta:
        ordering = ("number",)
        constraints = [
            models.CheckConstraint(condition=models.Q(number__gte=1), name="seals_are_numbered_from_one"),
        ]

    def __str__(self) -> str:
        return f"seal {self.number}"
