"""Volunteers, interviewers and narrators, and the invitations that open an account."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from intake.accounts.models import Role


class Person(models.Model):
    """Somebody the library knows. Contact details are for staff and for the volunteer who wrote them down."""

    name = models.CharField(max_length=200)
    email = models.EmailField("e-mail address", blank=True)
    user = models.OneToOneField(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="person"
    )
    catalogue_name = models.CharField(
        max_length=200, blank=True, help_text="As records have it: the family name, a comma, the other names."
    )
    variant_names = models.JSONField(default=list, help_text="Other names of the same person.")
    life_dates = models.CharField(max_length=60, blank=True, help_text="EDTF, level 1, such as 1943~/.")
    uri = models.CharField(max_length=500, blank=True, help_text="Where others keep a record of the person.")
    noted_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    noted_at = models.DateTimeField(auto_now_add=True)
    merged_into = models.ForeignKey(
        "self",
        null=True,
        on_delete=models.PROTECT,
        related_name="twins",
        help_text="The record that stands for this one.",
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(merged_into=None) | ~Q(merged_into=F("pk")), name="person_is_not_merged_into_itself"
            ),
            models.CheckConstraint(condition=Q(merged_into=None) | Q(user=None), name="merged_person_keeps_no_account"),
        ]

    def __str__(self) -> str:
        return self.name


class Invitation(models.Model):
    """A link by e-mail that opens one account, once. Only the digest of its secret is kept."""

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="invitations")
    role = models.CharField(max_length=20, choices=Role.choices)
    token_sha256 = models.CharField(max_length=64, unique=True)
    invited_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    invited_at = models.DateTimeField(auto_now_add=True)
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(role__in=Role.values), name="invitation_has_a_known_role"),
        ]

    def __str__(self) -> str:
        return f"invitation of {self.person}"
