"""Recording kits and who has them."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from intake.people.models import Person


class Kit(models.Model):
    """A numbered bag with a contents list."""

    number = models.CharField(max_length=20, unique=True)
    contents = models.TextField(help_text="One thing a line.")

    class Meta:
        ordering = ("number",)

    def __str__(self) -> str:
        return f"Kit {self.number}"


class Card(models.TextChoices):
    """How the recorder's card came back, as staff saw it."""

    CLEARED = "cleared", "Cleared"
    NOT_CLEARED = "not-cleared", "Not cleared"
    NOT_LOOKED_AT = "not-looked-at", "Not looked at"


class Loan(models.Model):
    """One kit with one borrower until a day. Its code signs the borrower in once; only the digest is kept."""

    kit = models.ForeignKey(Kit, on_delete=models.PROTECT, related_name="loans")
    borrower = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="loans")
    lent_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    lent_at = models.DateTimeField(auto_now_add=True)
    due_on = models.DateField()
    returned_at = models.DateTimeField(null=True)
    condition_back = models.TextField(blank=True)
    card = models.CharField(max_length=15, choices=Card.choices, blank=True, help_text="Empty until the kit is back.")
    told_of_card = models.TextField(blank=True, help_text="What the site said of the recordings at the return check.")
    code_sha256 = models.CharField(max_length=64, unique=True)
    code_expires_at = models.DateTimeField()
    code_used_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["kit"], condition=Q(returned_at=None), name="kit_has_one_open_loan"),
        ]

    def __str__(self) -> str:
        return f"{self.kit} with {self.borrower}"
