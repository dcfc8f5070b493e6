"""Messages as rows: written with the change that causes them, sent by a job."""

from django.db import models

from intake.files.models import StoredFile


class MessageState(models.TextChoices):
    WAITING = "waiting", "waiting"
    SENT = "sent", "sent"


class Message(models.Model):
    """One e-mail to one person. `key` names what it is about, so that the same message is never written twice."""

    key = models.CharField(max_length=100, unique=True)
    to = models.EmailField()
    subject = models.CharField(max_length=200)
    text = models.TextField()
    holds_secret = models.BooleanField(default=False, help_text="A link for one person: the text is cleared once sent.")
    attachments = models.ManyToManyField(StoredFile, related_name="+")
    state = models.CharField(max_length=10, choices=MessageState.choices, default=MessageState.WAITING)
    written_at = models.DateTimeField(auto_now_add=True)
    sent_at = models.DateTimeField(null=True)

    def __str__(self) -> str:
        return self.subject
