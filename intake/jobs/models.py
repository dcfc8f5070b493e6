"""The queue, as rows: one row a promise of background work."""

from django.db import models
from django.db.models import Q


class Kind(models.TextChoices):
    STORE_UPLOAD = "store-upload", "Compare and store a received file"
    MEASURE_PART = "measure-part", "Measure a part"
    MAKE_LISTENING_COPY = "make-listening-copy", "Make a listening copy"
    MAKE_SOUND_PICTURE = "make-sound-picture", "Draw a part for the review desk"
    MAKE_WORKING_COPY = "make-working-copy", "Make a working copy"
    MAKE_DESCRIBED_COPIES = "make-described-copies", "Make described copies"
    MAKE_RELEASE_COPY = "make-release-copy", "Make a signer's copy of a release"
    MAKE_AGREEMENT_COPY = "make-agreement-copy", "Make a signer's copy of an agreement"
    MAKE_ARRIVAL_RECEIPT = "make-arrival-receipt", "Make an arrival receipt"
    MAKE_RECEIPT = "make-receipt", "Make an acceptance receipt"
    MAKE_LETTER = "make-letter", "Make a letter"
    MAKE_QUALITY_REPORT = "make-quality-report", "Make a quality report"
    REISSUE_PAPER = "reissue-paper", "Make a new version of a paper"
    READ_SCAN = "read-scan", "Read the code on a scan of a signed form"
    SEND_MESSAGE = "send-message", "Send a message"
    AUDIT_COPIES = "audit-copies", "Read the night's share of stored copies"
    CHECK_COPIES = "check-copies", "Read copies again"
    TELL_INCIDENTS = "tell-incidents", "Tell the coordinators of bad copies"
    TELL_CARD = "tell-card", "Tell a volunteer how the card stands"
    LIFT_CLOSURES = "lift-closures", "Note the closures whose day has come"
    MAKE_ACCESS_COPIES = "make-access-copies", "Make the copies in which closed passages are silent"
    CLEAR_UPLOADS = "clear-uploads", "Tell of uploads that nobody finishes, and clear them"
    REFRESH_QUEUE = "refresh-queue", "Bring the queue up to date"
    REFRESH_HARVEST = "refresh-harvest", "Bring the records for harvesters up to date"
    READ_LIST = "read-list", "Read a list of headings"
    SEAL_EVENTS = "seal-events", "Seal events into the chain"


class JobState(models.TextChoices):
    WAITING = "waiting", "waiting"
    RUNNING = "running", "running"
    DONE = "done", "done"
    FAILED = "failed", "failed"


class Job(models.Model):
    """One piece of background work.

    `attempts` is also the fence: a worker may only finish the attempt that it claimed.
    """

    kind = models.CharField(max_length=30, choices=Kind.choices)
    subject_id = models.CharField(max_length=64)
    state = models.CharField(max_length=10, choices=JobState.choices, default=JobState.WAITING)
    attempts = models.PositiveIntegerField(default=0)
    due_at = models.DateTimeField()
    nudged_at = models.DateTimeField(null=True)
    lease_until = models.DateTimeField(null=True)
    progress = models.FloatField(null=True, help_text="Share done, 0 to 1, while running.")
    error = models.TextField(blank=True)
    created_at = models.DateTimeField(auto_now_add=True)
    finished_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["kind", "subject_id"], condition=Q(state__in=["waiting", "running"]), name="job_is_open_once"
            ),
            models.CheckConstraint(
                condition=~Q(state="running") | Q(lease_until__isnull=False), name="running_job_has_a_lease"
            ),
        ]
        indexes = [models.Index(fields=["state", "due_at"], name="job_by_state_and_due")]

    def __str__(self) -> str:
        return f"{self.kind} {self.subject_id}"
