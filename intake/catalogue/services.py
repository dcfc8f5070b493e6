"""Describe an interview: the text of its record, its headings, and the people whom it names."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from django.db import transaction
from django.db.models import QuerySet

from intake.accounts.models import User
from intake.audit.actions import Action
from intake.audit.services import record
from intake.catalogue import dates
from intake.catalogue.complete import description_of, missing_before_cataloguing
from intake.catalogue.models import AccessPoint, Contributor, Description, Heading
from intake.catalogue.rights import LICENCES, licence_chosen
from intake.catalogue.withheld import Withheld, participants_of
from intake.errors import DoneAlready, Refused, refuse_if
from intake.interviews import lifecycle
from intake.interviews.models import Interview, State
from intake.merging import merged
from intake.people import services as people
from intake.people.models import Person

# While somebody listens for the review one describes already; after that the record is the library's to keep right.
DESCRIBABLE = frozenset({State.IN_REVIEW, State.ACCEPTED, State.CATALOGUED})


@dataclass(frozen=True)
class Said:
    """The text of a record. `languages` are BCP 47 tags, `periods` EDTF, `rights` a URI; an empty title is devised."""

    title: str
    summary: str
    languages: Sequence[str]
    periods: Sequence[str]
    rights: str


@transaction.atomic
def describe(interview_id: int, *, said: Said, began: Said | None = None, actor: User) -> Description:
    """Change the text of the record. `began` is what stood there when the change was begun. Raises Conflict."""
    with describing(interview_id, actor) as interview:
        kept = description_of(interview)
        saved = {name: getattr(kept, name) for name in vars(said)}
        new = merged(vars(began), vars(said), saved) if began else vars(said)
        _refuse_unless_true(new, interview)
        changed = sorted(name for name, value in new.items() if saved[name] != value)
        if changed:
            for name in changed:
                setattr(kept, name, new[name])
            kept.changed_by = actor
            kept.save()
            record(actor=actor, action=Action.RECORD_CHANGED, subject=interview, changed=changed)
    return kept


@transaction.atomic
def give_heading(interview_id: int, *, heading: Heading, use: str, actor: User) -> AccessPoint:
    """Have an interview found under a subject or a place."""
    with describing(interview_id, actor) as interview:
        if use == AccessPoint.Use.RECORDED_AT and heading.kind != Heading.Kind.PLACE:
            raise Refused(f"“{heading}” is a subject; an interview is recorded at a place.")
        point, new = AccessPoint.objects.get_or_create(interview=interview, heading=heading, use=use)
        if not new:
            raise DoneAlready(f"“{heading}” stands in the record already.")
        _tell_heading(Action.HEADING_GIVEN, point, actor)
    return point


@transaction.atomic
def remove_heading(point_id: int, *, actor: User) -> None:
    """Take a heading out of a record; the heading itself stays in its list."""
    point = _still(AccessPoint.objects.select_related("heading", "interview").filter(pk=point_id))
    with describing(point.interview_id, actor):
        _tell_heading(Action.HEADING_REMOVED, point, actor)
        point.delete()


@transaction.atomic
def name_contributor(interview_id: int, *, person: Person, role: str, actor: User) -> Contributor:
    """Name somebody in the record beside those who took part in the conversation."""
    with describing(interview_id, actor) as interview:
        if person.pk in Withheld.of(participants_of(interview)).people:
            raise Refused("This person was promised that the record does not name them.")
        contributor, new = Contributor.objects.get_or_create(interview=interview, person=person, role=role)
        if not new:
            raise DoneAlready(f"{person} stands in the record already.")
        _tell_contributor(Action.CONTRIBUTOR_NAMED, contributor, actor)
    return contributor


@transaction.atomic
def name_somebody_new(interview_id: int, *, name: str, catalogue_name: str, role: str, actor: User) -> Contributor:
    """The same for somebody whom the library did not know."""
    person = people.note_person(name=name, email="", actor=actor)
    name_person(person.pk, catalogue_name=catalogue_name, variant_names=[], life_dates="", uri="", actor=actor)
    return name_contributor(interview_id, person=person, role=role, actor=actor)


@transaction.atomic
def remove_contributor(contributor_id: int, *, actor: User) -> None:
    """Take somebody out of the record; what the library knows of the person stays."""
    contributor = _still(Contributor.objects.select_related("person", "interview").filter(pk=contributor_id))
    with describing(contributor.interview_id, actor):
        _tell_contributor(Action.CONTRIBUTOR_REMOVED, contributor, actor)
        contributor.delete()


@transaction.atomic
def name_person(
    person_id: int, *, catalogue_name: str, variant_names: Sequence[str], life_dates: str, uri: str, actor: User
) -> Person:
    """Say how the catalogue names a person, in every record that names them."""
    refuse_unless_staff(actor)
    return people.name_for_catalogue(
        person_id,
        catalogue_name=catalogue_name,
        variant_names=variant_names,
        life_dates=dates.checked(life_dates) if life_dates else "",
        uri=uri,
        actor=actor,
    )


@contextmanager
def describing(interview_id: int, actor: User) -> Iterator[Interview]:
    """The interview, locked, for somebody of the staff to describe. Raises Refused.

    Harvesters read the record of a catalogued interview: a change that would leave it less complete is refused.
    """
    refuse_unless_staff(actor)
    interview = lifecycle.locked(interview_id)
    if interview.state not in DESCRIBABLE:
        raise Refused("An interview is described from its review on, and not once it has been declined or taken down.")
    is_catalogued = interview.state == State.CATALOGUED
    before = missing_before_cataloguing(interview) if is_catalogued else []
    yield interview
    after = missing_before_cataloguing(interview) if is_catalogued else []
    refuse_if([sentence for sentence in after if sentence not in before])


def refuse_unless_staff(actor: User) -> None:
    if not actor.is_archivist:
        raise Refused("Only the library's staff describe interviews.")


def _refuse_unless_true(new: dict[str, Any], interview: Interview) -> None:
    for period in new["periods"]:
        dates.checked(period)
    if new["rights"] in LICENCES.values() and new["rights"] != licence_chosen(participants_of(interview)):
        raise Refused("Only whoever holds the rights gives a licence, and the narrators have not all given this one.")


def _still(rows: QuerySet[Any]) -> Any:
    found = rows.first()
    if found is None:
        raise DoneAlready("This was taken out already.")
    return found


def _tell_heading(action: Action, point: AccessPoint, actor: User) -> None:
    heading = point.heading
    record(actor=actor, action=action, subject=point.interview, heading=heading.pk, label=heading.label, use=point.use)


def _tell_contributor(action: Action, contributor: Contributor, actor: User) -> None:
    person, names = contributor.person, {"name": contributor.person.name}
    record(
        actor=actor,
        action=action,
        subject=contributor.interview,
        names=names,
        person=person.pk,
        role=contributor.role,
    )
