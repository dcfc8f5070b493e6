"""What staff decided, and how they answered the findings."""

from django.conf import settings
from django.db import models

from intake.interviews.models import Interview, Part
from intake.qc.models import QCReport


class Verdict(models.TextChoices):
    ACCEPTED = "accepted", "Accepted"
    SENT_BACK = "sent-back", "Sent back"
    DECLINED = "declined", "Declined"


class Decision(models.Model):
    """One end of one review; never changed. `message` is what the volunteer reads."""

    interview = models.ForeignKey(Interview, on_delete=models.PROTECT, related_name="decisions")
    verdict = models.CharField(max_length=10, choices=Verdict.choices)
    message = models.TextField(blank=True)
    reviewer = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ("id",)
        constraints = [
            models.CheckConstraint(
                condition=models.Q(verdict="accepted") | ~models.Q(message=""), name="a_no_comes_with_a_message"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.verdict} {self.interview_id}"


class FindingAnswer(models.Model):
    """What becomes of a problem that was measured, in the reviewer's words."""

    class Kind(models.TextChoices):
        ACCEPT = "accept", "Accept because"
        ASK = "ask", "Ask the volunteer"
        SILENCE = "silence", "Silence it in the copies that leave"

    report = models.ForeignKey(QCReport, on_delete=models.PROTECT, related_name="answers")
    code = models.CharField(max_length=60)
    channel = models.CharField(max_length=10, blank=True)
    kind = models.CharField(max_length=7, choices=Kind.choices, default=Kind.ACCEPT)
    answer = models.TextField()
    answered_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    answered_at = models.DateTimeField(auto_now=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["report", "code", "channel"], name="finding_has_one_answer"),
        ]

    def __str__(self) -> str:
        return f"answer to {self.code}"


class Heard(models.Model):
    """Which stretches of a part one person has listened to, in seconds; those that meet are joined."""

    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="heard")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    spans = models.JSONField(default=list)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["part", "by"], name="heard_is_kept_once_for_each_listener")]

    def __str__(self) -> str:
        return f"what {self.by} heard of part {self.part_id}"


class OpeningCheck(models.Model):
    """Whether one thing that a good opening says aloud (a name, the day, the place) was heard, as the form has it."""

    class Verdict(models.TextChoices):
        HEARD = "heard", "Heard"
        DIFFERS = "differs", "Heard otherwise"
        NOT_SAID = "not-said", "Not said"

    interview = models.ForeignKey(Interview, on_delete=models.PROTECT, related_name="opening_checks")
    item = models.CharField(max_length=40)
    verdict = models.CharField(max_length=10, choices=Verdict.choices)
    note = models.CharField(max_length=300, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(auto_now=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["interview", "item"], name="opening_is_checked_once_for_an_item")
        ]

    def __str__(self) -> str:
        return f"{self.item}: {self.verdict}"
