"""Forms that have been sent, so that a second click does nothing twice."""

from django.db import models


class SentForm(models.Model):
    """One sending of a form that makes something, by the digest of who sent what, and where it led."""

    digest = models.CharField(max_length=64, unique=True)
    led_to = models.CharField(max_length=200, blank=True, help_text="The address it was answered with, if any.")
    sent_at = models.DateTimeField(auto_now_add=True, db_index=True)

    def __str__(self) -> str:
        return f"form sent at {self.sent_at}"
