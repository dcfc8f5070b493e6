"""Questions about accounts that the sign-in package answers."""

from allauth.mfa.utils import is_mfa_enabled

from intake.accounts.models import User


def has_second_step(user: User) -> bool:
    """Whether this person signs in with a second factor."""
    return is_mfa_enabled(user)
