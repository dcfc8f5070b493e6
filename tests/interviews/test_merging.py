"""Two records of one person are made one; everything that points to the one points to the other."""

from datetime import timedelta

import pytest
from django.apps import apps
from django.db import IntegrityError, transaction
from django.utils import timezone

from intake.accounts.models import Role
from intake.audit.actions import Action
from intake.audit.models import Event
from intake.errors import Refused
from intake.interviews import merging, participants
from intake.interviews import services as interviews
from intake.interviews.models import Participant
from intake.jobs.models import Kind
from intake.kits import services as kits
from intake.outputs.models import OutputKind
from intake.outputs.services import existing
from intake.people import services as people
from intake.people.models import Person
from intake.register.services import standing
from tests.factories import (
    a_description,
    a_signed_release,
    a_started_interview,
    an_accession,
    narrator_of,
    run_jobs,
)
from tests.workflow.test_accept import text_of

pytestmark = pytest.mark.django_db


def noted(actor, name="Marit Oskarsen", email=""):
    return people.note_person(name=name, email=email, actor=actor)


def merge(twin, stays, actor):
    return merging.merge(twin.pk, into_id=stays.pk, actor=actor)


def refused(twin, stays, actor) -> tuple[str, ...]:
    before = (list(Person.objects.order_by("pk").values()), Event.objects.count())
    with pytest.raises(Refused) as told:
        merge(twin, stays, actor)
    assert (list(Person.objects.order_by("pk").values()), Event.objects.count()) == before
    return told.value.reasons


# Finding


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (("Marit Oskarsen", ""), ("marit  oskarsen ", "")),
        (("José Ölund", ""), ("Jose Olund", "")),
        (("Marit Oskarsen", "marit@example.org"), ("M. Oskarsen", "MARIT@example.org")),
    ],
)
def test_the_same_name_or_address_makes_likely_twins(archivist, one, other):
    pair = [noted(archivist, *one), noted(archivist, *other)]
    assert merging.likely_twins() == [pair]


def test_other_names_and_empty_addresses_make_none(archivist):
    for name in ("Marit Oskarsen", "Marit Oskarson", "Aurel Lindqvist"):
        noted(archivist, name)
    assert merging.likely_twins() == []


def test_the_address_of_an_account_counts(archivist, volunteer):
    person = people.person_of(volunteer)
    other = noted(archivist, "T. Wrenfield", "tobias@example.org")
    assert merging.likely_twins() == [[person, other]]


def test_a_merged_record_is_found_no_more(archivist):
    twin, stays = noted(archivist), noted(archivist)
    merge(twin, stays, archivist)
    assert merging.likely_twins() == []
    assert people.find("marit") == [stays]


# Merging


def test_everything_that_pointed_to_the_one_points_to_the_other(archivist):
    kit = kits.add_kit(number="7", contents="recorder", actor=archivist)
    due_on = timezone.localdate() + timedelta(days=7)
    loan, _ = kits.lend(kit.pk, name="Marit Oskarsen", email="m@example.org", due_on=due_on, actor=archivist)
    twin, stays = loan.borrower, noted(archivist, "Marit Oskarsen-Lund")
    people.invite(
        name="Marit Oskarsen", email="m@example.org", role=Role.VOLUNTEER, actor=archivist, url_for=lambda token: token
    )
    invitation = twin.invitations.first()
    narrated = interviews.start_for(twin, actor=archivist, description=a_description(), narrator=twin, interviewer=None)
    merge(twin, stays, archivist)
    for row in filter(None, (loan, invitation, narrated)):
        row.refresh_from_db()
    assert (loan.borrower, narrated.given_by) == (stays, stays)
    assert narrated.people("narrator") == [stays]
    twin.refresh_from_db()
    stays.refresh_from_db()
    assert twin.merged_into == stays
    assert (stays.name, stays.email) == ("Marit Oskarsen-Lund", "m@example.org")
    assert left_over(twin) == []


def left_over(twin) -> list[str]:
    """Rows of any model of ours that still point to the record."""
    return [
        f"{model._meta.label}.{field.name}"
        for model in apps.get_models()
        for field in model._meta.concrete_fields
        if field.related_model is Person and model.objects.filter(**{field.name: twin}).exists()
    ]


def test_the_walk_over_what_points_to_a_person_finds_something(archivist):
    """A walk that finds nothing would always pass."""
    assert "interviews.Interview.given_by" in left_over(
        interviews.start_for(
            noted(archivist),
            actor=archivist,
            description=a_description(),
            narrator=noted(archivist, "Aurel Lindqvist"),
            interviewer=None,
        ).given_by
    )


def test_the_account_goes_along(archivist, volunteer):
    twin, stays = people.person_of(volunteer), noted(archivist, "T. Wrenfield")
    merge(twin, stays, archivist)
    assert people.person_of(volunteer) == stays


def test_records_merged_earlier_follow(archivist):
    first, second, third = (noted(archivist) for _ in range(3))
    merge(first, second, archivist)
    merge(second, third, archivist)
    first.refresh_from_db()
    assert first.merged_into == third


def test_links_that_are_on_their_way_end(archivist, volunteer):
    """Else one would open a second account for a person who has one."""
    tokens = []
    people.invite(
        name="T. Wrenfield",
        email="t@example.org",
        role=Role.VOLUNTEER,
        actor=archivist,
        url_for=lambda token: tokens.append(token) or token,
    )
    invited = Person.objects.get(email="t@example.org")
    merge(people.person_of(volunteer), invited, archivist)
    with pytest.raises(Refused):
        people.accept_invitation(tokens[0], name="T", password="three quiet rivers")


def test_the_event_keeps_the_names_and_what_was_moved(archivist):
    interview = a_started_interview()
    twin, stays = narrator_of(interview).person, noted(archivist, "Marit Oskarsen-Lund")
    merge(twin, stays, archivist)
    event = Event.objects.get(action=Action.PERSON_MERGED)
    assert (event.actor, event.subject_id, event.details["merged"]) == (archivist, str(stays.pk), twin.pk)
    assert event.details["moved"] == {"interviews.Participant.person": [str(narrator_of(interview).pk)]}
    assert event.names.names == {
        "merged": "Marit Oskarsen",
        "into": "Marit Oskarsen-Lund",
        "address": "marit@example.org",
    }


def test_what_was_signed_keeps_its_name(archivist):
    """On the paper, even if it is made later, and in the register."""
    interview = a_started_interview()
    release = a_signed_release(narrator_of(interview))
    merge(narrator_of(interview).person, noted(archivist, "Marit Oskarsen-Lund"), archivist)
    run_jobs(Kind.MAKE_RELEASE_COPY)
    paper = text_of(existing(OutputKind.RELEASE_COPY, release.pk))
    assert "Marit Oskarsen" in paper
    assert "Oskarsen-Lund" not in paper
    accession = an_accession()
    merge(narrator_of(accession.interview).person, noted(archivist, "Marit O."), archivist)
    assert "Marit Oskarsen" in {terms["signer"] for terms in standing(accession.interview).snapshot["terms"]}


# Refusing


def test_two_accounts_are_not_merged(archivist, volunteer, other_volunteer):
    (told,) = refused(people.person_of(volunteer), people.person_of(other_volunteer), archivist)
    assert told.startswith("Both have accounts")


def test_two_who_take_part_in_one_interview_are_two_people(archivist, volunteer):
    interview = a_started_interview(volunteer)
    second = participants.add_participant(interview.pk, name="Marit O.", email="", role="narrator", actor=volunteer)
    (told,) = refused(second.person, narrator_of_first(interview), archivist)
    assert told.startswith(f"Both take part in “{interview}”.")
    participants.remove_participant(second.pk, actor=volunteer)
    assert merge(second.person, narrator_of_first(interview), archivist)


def narrator_of_first(interview) -> Person:
    return interview.people(Participant.Role.NARRATOR)[0]


def test_two_who_signed_in_one_interview_are_told_so(archivist, volunteer):
    interview = a_started_interview(volunteer)
    second = participants.add_participant(interview.pk, name="Marit O.", email="", role="narrator", actor=volunteer)
    for participant in interview.participants.filter(role="narrator"):
        a_signed_release(participant)
    (told,) = refused(second.person, narrator_of_first(interview), archivist)
    assert told.startswith("Both have signed for")


def test_a_record_is_not_merged_into_itself_nor_twice(archivist):
    twin, stays = noted(archivist), noted(archivist)
    assert refused(twin, twin, archivist) == ("This is one record already.",)
    merge(twin, stays, archivist)
    assert refused(twin, noted(archivist), archivist)
    assert refused(noted(archivist), twin, archivist)


def test_volunteers_merge_nobody(archivist, volunteer):
    assert refused(noted(archivist), noted(archivist), volunteer) == (
        "Only the library's staff merge records of persons.",
    )


def test_the_database_knows_too(archivist, volunteer):
    person, other = people.person_of(volunteer), noted(archivist)
    with pytest.raises(IntegrityError, match="merged_person_keeps_no_account"), transaction.atomic():
        Person.objects.filter(pk=person.pk).update(merged_into=other)
    with pytest.raises(IntegrityError, match="person_is_not_merged_into_itself"), transaction.atomic():
        Person.objects.filter(pk=other.pk).update(merged_into=other)


def test_nobody_is_invited_to_a_second_account(archivist, volunteer):
    with pytest.raises(Refused):
        people.open_account(people.person_of(volunteer), name="T", password="three quiet rivers", role=Role.VOLUNTEER)


def test_what_happened_before_stays_as_it_was(archivist):
    interview = a_started_interview()
    run_jobs()
    before = Event.objects.count()
    merge(narrator_of(interview).person, noted(archivist, "Marit O."), archivist)
    assert Event.objects.count() == before + 1
