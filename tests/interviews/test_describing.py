"""Beginning and describing an interview, and naming its people."""

from datetime import date, timedelta

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from intake.audit.actions import Action
from intake.audit.services import story_of
from intake.errors import Refused
from intake.interviews import participants
from intake.interviews import services as interviews
from intake.interviews.models import Collection, Interview, Participant, State
from intake.people.models import Person
from tests.factories import (
    a_collection,
    a_description,
    a_signed_release,
    a_started_interview,
    an_interview,
    narrator_of,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def interview(volunteer) -> Interview:
    return a_started_interview(volunteer)


def describe(interview, **changes):
    return interviews.describe(interview.pk, actor=interview.owner, description=a_description(**changes))


def name_somebody(interview, name, role="narrator"):
    return participants.add_participant(interview.pk, name=name, email="", role=role, actor=interview.owner)


def test_an_interview_begins_as_a_draft_of_its_volunteer(interview, volunteer):
    assert (interview.state, interview.owner) == (State.DRAFT, volunteer)
    assert narrator_of(interview).person.email == "marit@example.org"
    assert interview.people("interviewer") == [volunteer.person]


@pytest.mark.parametrize(
    ("others", "title"),
    [
        ([], "Interview with Marit Oskarsen, 14 Mar 2026"),
        (["Aurel Lindqvist"], "Interview with Marit Oskarsen and Aurel Lindqvist, 14 Mar 2026"),
        (["Aurel", "Jonna"], "Interview with Marit Oskarsen, Aurel and Jonna, 14 Mar 2026"),
    ],
)
def test_the_title_names_the_narrators_and_the_day(interview, others, title):
    for name in others:
        name_somebody(interview, name)
    assert interview.title == str(interview) == title


def test_the_title_of_an_interview_without_a_narrator_says_so(interview):
    participants.remove_participant(narrator_of(interview).pk, actor=interview.owner)
    assert interview.title == "Interview with a narrator not yet named, 14 Mar 2026"


def test_a_description_is_changed(interview):
    describe(interview, place="On board", language="sv", recorded_on=date(2026, 3, 15))
    interview.refresh_from_db()
    assert (interview.place, interview.language, interview.recorded_on) == ("On board", "sv", date(2026, 3, 15))


def test_a_change_records_which_fields_changed_and_not_their_words(interview):
    describe(interview, summary="About a drowned neighbour.", place="On board")
    event = story_of(interview).last()
    assert (event.action, event.details) == (Action.INTERVIEW_DESCRIBED, {"changed": ["place", "summary"]})


def test_a_description_that_is_the_same_records_nothing(interview):
    before = story_of(interview).count()
    describe(interview)
    assert story_of(interview).count() == before


@pytest.mark.parametrize("state", [State.SUBMITTED, State.IN_REVIEW, State.WITHDRAWN], ids=str)
def test_an_interview_that_is_with_the_library_is_not_described(state):
    interview = an_interview(state)
    with pytest.raises(Refused, match="with the library now"):
        describe(interview, place="On board")


def test_a_returned_interview_can_be_described_again():
    interview = an_interview(State.RETURNED)
    assert describe(interview, place="On board").place == "On board"


def test_an_interview_on_a_day_to_come_is_refused(interview, volunteer):
    today = timezone.localdate()
    describe(interview, recorded_on=today + timedelta(days=1))  # the volunteer's calendar may be ahead
    for refused in (
        lambda day: describe(interview, recorded_on=day),
        lambda day: a_started_interview(volunteer, recorded_on=day),
    ):
        with pytest.raises(Refused, match="lies in the future"):
            refused(today + timedelta(days=2))


def test_two_narrators_of_one_name_stay_two_people(interview):
    name_somebody(interview, "Marit Oskarsen")
    assert Person.objects.filter(name="Marit Oskarsen").count() == 2


def test_a_person_named_by_mistake_is_taken_out(interview):
    wrong = name_somebody(interview, "Aurel Lindqvist")
    participants.remove_participant(wrong.pk, actor=interview.owner)
    assert "Aurel Lindqvist" not in interview.title
    assert story_of(interview).last().action == Action.PARTICIPANT_REMOVED


def test_a_person_who_has_signed_stays(interview):
    a_signed_release(narrator_of(interview))
    before = story_of(interview).count()
    with pytest.raises(Refused, match="Marit Oskarsen has signed a release"):
        participants.remove_participant(narrator_of(interview).pk, actor=interview.owner)
    assert narrator_of(interview)
    assert story_of(interview).count() == before


def test_nobody_is_added_or_taken_out_while_the_library_has_it():
    interview = an_interview(State.SUBMITTED)
    with pytest.raises(Refused, match="with the library now"):
        name_somebody(interview, "Aurel Lindqvist")
    with pytest.raises(Refused, match="with the library now"):
        participants.remove_participant(narrator_of(interview).pk, actor=interview.owner)


def test_the_database_lets_a_person_have_one_role_in_an_interview(interview):
    person = narrator_of(interview).person
    with pytest.raises(IntegrityError), transaction.atomic():
        Participant.objects.create(interview=interview, person=person, role="interviewer")


def test_names_stand_apart_from_the_story(interview):
    assert "Marit" not in str(list(story_of(interview).values()))
    assert {"name": "Marit Oskarsen"} in [event.names.names for event in story_of(interview).exclude(names=None)]


def test_two_collections_cannot_have_one_name(coordinator):
    collection = a_collection()
    with pytest.raises(Refused, match="There is a collection"):
        interviews.add_collection(name=collection.name, actor=coordinator)
    assert Collection.objects.count() == 1
