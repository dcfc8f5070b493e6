"""Questions about accounts."""

from allauth.mfa.utils import is_mfa_enabled
from django.db.models import QuerySet

from intake.accounts.models import Role, User


def staff() -> QuerySet[User]:
    """Everybody of the local history room who can sign in."""
    return User.objects.filter(is_active=True, role__in=[Role.ARCHIVIST, Role.COORDINATOR])


def coordinators() -> QuerySet[User]:
    """Those who answer for the program and can sign in."""
    return User.objects.filter(is_active=True, role=Role.COORDINATOR)


def has_second_step(user: User) -> bool:
    """Whether this person signs in with a second factor."""
    return is_mfa_enabled(user)
