"""Messages as rows: written with the change that causes them, sent by a job."""

from django.db import models
from django.db.models import Q

from intake.files.models import StoredFile


class MessageState(models.TextChoices):
    WAITING = "waiting", "Waiting to be sent"
    SENT = "sent", "Sent"
    FAILED = "failed", "Not sent"
    BOUNCED = "bounced", "Came back"


class Message(models.Model):
    """One e-mail to one person. `key` names what it is about, so that the same message is never written twice."""

    key = models.CharField(max_length=100, unique=True)
    thread = models.CharField(
        max_length=130, blank=True, db_index=True, help_text="The thing whose story this belongs to: type:id."
    )
    to = models.EmailField()
    subject = models.CharField(max_length=200)
    text = models.TextField(blank=True)
    holds_secret = models.BooleanField(default=False, help_text="A link for one person: the text is cleared once sent.")
    attachments = models.ManyToManyField(StoredFile, related_name="+")
    state = models.CharField(max_length=10, choices=MessageState.choices, default=MessageState.WAITING)
    attempts = models.PositiveIntegerField(default=0)
    last_error = models.TextField(blank=True, help_text="What went wrong at the latest attempt, in plain words.")
    written_at = models.DateTimeField(auto_now_add=True)
    last_tried_at = models.DateTimeField(null=True)
    sent_at = models.DateTimeField(null=True, help_text="When a mail server last took it.")
    bounced_at = models.DateTimeField(null=True)
    settled_at = models.DateTimeField(null=True, help_text="When staff marked its trouble as dealt with.")

    class Meta:
        ordering = ("-id",)
        constraints = [
            models.CheckConstraint(condition=Q(state__in=MessageState.values), name="message_has_a_known_state"),
            models.CheckConstraint(
                condition=~Q(state="sent") | Q(sent_at__isnull=False), name="sent_message_says_when_it_was_sent"
            ),
            models.CheckConstraint(
                condition=~Q(state="bounced") | Q(bounced_at__isnull=False), name="bounced_message_says_when"
            ),
            models.CheckConstraint(
                condition=Q(holds_secret=False) | ~Q(state__in=["sent", "bounced"]) | Q(text=""),
                name="secret_goes_once_it_was_sent",
            ),
        ]
        indexes = [models.Index(fields=["state", "settled_at"], name="message_by_state")]

    def __str__(self) -> str:
        return self.subject

    @property
    def is_waiting(self) -> bool:
        return self.state == MessageState.WAITING

    @property
    def is_troubled(self) -> bool:
        """It did not reach its person, and nobody has dealt with that."""
        return self.state in {MessageState.FAILED, MessageState.BOUNCED} and self.settled_at is None

    @property
    def has_lost_its_link(self) -> bool:
        """The secret in it went with its text, so that it can never be sent again."""
        return self.holds_secret and not self.text
