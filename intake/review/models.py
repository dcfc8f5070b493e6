"""What staff decided, and how they answered the findings."""

from django.conf import settings
from django.db import models

from intake.interviews.models import Interview
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
    """Why a problem that was measured does not stand in the way, in the reviewer's words."""

    report = models.ForeignKey(QCReport, on_delete=models.PROTECT, related_name="answers")
    code = models.CharField(max_length=60)
    channel = models.CharField(max_length=10, blank=True)
    answer = models.TextField()
    answered_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    answered_at = models.DateTimeField(auto_now=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["report", "code", "channel"], name="finding_has_one_answer"),
        ]

    def __str__(self) -> str:
        return f"answer to {self.code}"
