"""The people of an interview: who tells, asks, interprets, or signs for somebody."""

from django.db import transaction
from django.db.models import ProtectedError

from intake.accounts.models import User
from intake.audit.actions import Action
from intake.audit.services import record
from intake.errors import Refused
from intake.interviews import lifecycle
from intake.interviews.models import Interview, Participant
from intake.merging import merged
from intake.people import services as people
from intake.people.models import Person


@transaction.atomic
def add_participant(
    interview_id: int,
    *,
    name: str,
    email: str,
    role: str,
    actor: User,
    needs_guardian: bool = False,
    ward_id: int | None = None,
) -> Participant:
    """Name one more person who takes part or signs. A guardian signs for a narrator, the ward."""
    interview = lifecycle.editable(interview_id)
    ward = _ward(interview, role, ward_id)
    oneself = email.strip().lower() == actor.email or (not email and name.strip() == actor.name)
    person = people.person_of(actor) if oneself else people.note_person(name=name, email=email, actor=actor)
    if interview.participants.filter(person=person).exists():
        raise Refused(f"{person} is named here already.")
    needs_guardian = needs_guardian and role == Participant.Role.NARRATOR
    return add(interview, person, role, actor, needs_guardian=needs_guardian, ward=ward)


@transaction.atomic
def say_whether_alone(participant_id: int, *, needs_guardian: bool, actor: User) -> Participant:
    """Whether a narrator signs alone, or somebody signs with or for them."""
    participant = Participant.objects.select_related("person").get(pk=participant_id)
    interview = lifecycle.editable(participant.interview_id)
    if participant.role != Participant.Role.NARRATOR:
        raise Refused("Only a narrator may need a guardian's signature.")
    if participant.needs_guardian == needs_guardian:
        return participant
    participant.needs_guardian = needs_guardian
    participant.save(update_fields=["needs_guardian"])
    record(
        actor=actor,
        action=Action.PARTICIPANT_CORRECTED,
        subject=participant,
        thread=interview,
        needs_guardian=needs_guardian,
    )
    return participant


@transaction.atomic
def correct_participant(
    participant_id: int, *, name: str, email: str, actor: User, began: dict[str, str] | None = None
) -> Participant:
    """Put a name or an address right. What was signed keeps the name as it was then.

    `began` is the name and address when the change was begun: what others saved since then is kept. Raises Conflict.
    """
    participant = Participant.objects.select_related("person").get(pk=participant_id)
    interview = lifecycle.editable(participant.interview_id)
    person = participant.person
    if person.user_id:
        raise Refused(f"{person} has an account. The library changes names and addresses of accounts.")
    typed = {"name": name, "email": email}
    people.correct(person, **(merged(began, typed, {"name": person.name, "email": person.email}) if began else typed))
    record(
        actor=actor,
        action=Action.PARTICIPANT_CORRECTED,
        subject=participant,
        thread=interview,
        names={"name": person.name},
    )
    return participant


@transaction.atomic
def remove_participant(participant_id: int, *, actor: User) -> None:
    """Take out somebody named by mistake. A person who has signed stays: the release is evidence."""
    participant = Participant.objects.select_related("person").get(pk=participant_id)
    interview = lifecycle.editable(participant.interview_id)
    if participant.guardians.exists():
        raise Refused(f"Take out the guardian first, who signs for {participant.person}.")
    record(
        actor=actor,
        action=Action.PARTICIPANT_REMOVED,
        subject=participant,
        thread=interview,
        names={"name": participant.person.name},
    )
    try:
        participant.delete()
    except ProtectedError as error:
        raise Refused(f"{participant.person} has signed a release, so they stay with this interview.") from error


def _ward(interview: Interview, role: str, ward_id: int | None) -> Participant | None:
    """The narrator for whom a guardian signs; None for everybody else. Raises Refused."""
    if role != Participant.Role.GUARDIAN:
        return None
    ward = interview.participants.filter(pk=ward_id or 0, needs_guardian=True).first()
    if ward is None:
        raise Refused("Choose for whom the guardian signs: a narrator who is noted as not signing alone.")
    return ward


def add(
    interview: Interview,
    person: Person,
    role: str,
    actor: User,
    *,
    needs_guardian: bool = False,
    ward: Participant | None = None,
) -> Participant:
    """Note somebody in a role. The caller has looked whether the interview may be changed."""
    participant = Participant.objects.create(
        interview=interview, person=person, role=role, needs_guardian=needs_guardian, ward=ward
    )
    record(
        actor=actor,
        action=Action.PARTICIPANT_ADDED,
        subject=participant,
        thread=interview,
        names={"name": person.name},
        role=role,
    )
    return participant
