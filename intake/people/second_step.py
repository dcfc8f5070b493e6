"""Take a second step off an account whose phone and printed codes are both lost."""

from allauth.mfa.models import Authenticator
from django.db import transaction
from django.utils import timezone

from intake.accounts.models import Role, User
from intake.accounts.services import has_second_step
from intake.audit.actions import Action
from intake.audit.services import record
from intake.errors import Refused
from intake.mail import services as mail
from intake.people.services import person_of


@transaction.atomic
def reset(user_id: int, *, actor: User | None) -> None:
    """Remove the app's key and the printed codes, and tell the person. `actor` None is whoever has the server.

    Staff are then led to set it up anew before anything else.
    """
    if actor and actor.role != Role.COORDINATOR:
        raise Refused("Only the coordinator resets a second step.")
    if actor and actor.pk == user_id:
        raise Refused("Your own second step is on your account page; another coordinator resets it for you.")
    user = User.objects.select_for_update().get(pk=user_id)
    if not has_second_step(user):
        raise Refused(f"{user.name} has no second step to reset.")
    _delete_authenticators(user)
    event = record(
        actor=actor,
        action=Action.SECOND_STEP_RESET,
        subject=person_of(user),
        names={"name": user.name},
        account=user.pk,
    )
    mail.write(
        key=f"second-step-reset-{event.pk}",
        to=user.email,
        template="second_step_reset",
        context={"name": user.name, "at": timezone.now(), "by": actor.name if actor else "whoever runs the site"},
    )


def _delete_authenticators(user: User) -> None:
    Authenticator.objects.filter(user=user).delete()
