"""Somebody leaves or cannot go on: their open interviews go into other hands, their account is closed if wished."""

from django.db import transaction
from django.db.models import Q, QuerySet

from intake.accounts.models import Role, User
from intake.audit.actions import Action
from intake.audit.models import Event
from intake.audit.services import record
from intake.errors import Refused, refuse_if
from intake.files import uploads
from intake.files.models import Upload
from intake.interviews import lifecycle
from intake.interviews.lifecycle import OPEN
from intake.interviews.models import Interview
from intake.interviews.quota import handed_in_for
from intake.mail import services as mail
from intake.people import services as people


def open_interviews_of(user: User) -> QuerySet[Interview]:
    """What they look after and what is not decided yet."""
    return (
        Interview.objects.filter(owner=user, state__in=OPEN)
        .select_related("collection")
        .prefetch_related("participants__person")
        .order_by("pk")
    )


def may_look_after(actor: User, *, instead_of: User) -> QuerySet[User]:
    """Who may be given somebody's interviews: another volunteer, or whoever moves them."""
    fit = Q(role=Role.VOLUNTEER) | Q(pk=actor.pk)
    return User.objects.filter(fit, is_active=True).exclude(pk=instead_of.pk).order_by("name", "pk")


@transaction.atomic
def hand_over(user_id: int, *, to: User | None, reason: str, has_left: bool, actor: User) -> list[Interview]:
    """Move all open interviews to `to`; if they have left, close the account too. Who gave them stays as it was."""
    user = User.objects.select_for_update().get(pk=user_id)
    refuse_if(_reasons_against(user, to, reason, actor))
    interviews = [lifecycle.locked(interview.pk) for interview in open_interviews_of(user)]
    if interviews and to is None:
        raise Refused(f"Choose who looks after the open interviews of {user} from now on.")
    events = [_move(interview, to, reason, actor) for interview in interviews if to]
    if events and to and to != actor:
        _tell(to, user, interviews, actor, about=events[0])
    if has_left:
        people.close_account(user, reason=reason, actor=actor)
    return interviews


def _reasons_against(user: User, to: User | None, reason: str, actor: User) -> list[str]:
    if not actor.is_archivist:
        return ["Only the library's staff put interviews in other hands."]
    if user.is_archivist and actor.role != Role.COORDINATOR:
        return ["Only the coordinator does this for somebody of the staff."]
    reasons = [] if reason.strip() else ["Say in a few words why."]
    if to and not may_look_after(actor, instead_of=user).filter(pk=to.pk).exists():
        reasons.append("Interviews go to another volunteer who can sign in, or to yourself.")
    return reasons


def _move(interview: Interview, to: User, reason: str, actor: User) -> Event:
    """What they have begun to send goes along, attachments and scans too: only an upload's owner sends to it."""
    before, interview.owner = interview.owner, to
    interview.save(update_fields=["owner"])
    begun = Upload.objects.filter(handed_in_for(pk=interview.pk), owner=before)
    moving = uploads.change_owner(list(begun.values_list("pk", flat=True)), to=to)
    return record(
        actor=actor,
        action=Action.INTERVIEW_REASSIGNED,
        subject=interview,
        names={"from": before.name, "to": to.name, "reason": reason},
        uploads=moving,
    )


def _tell(to: User, user: User, interviews: list[Interview], actor: User, *, about: Event) -> None:
    mail.write(
        key=f"reassigned-{about.pk}",
        to=to.email,
        template="reassigned",
        context={"name": to.name, "before": user.name, "interviews": interviews, "actor": actor},
    )
