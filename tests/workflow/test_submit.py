"""The volunteer hands the interview in."""

import pytest
from django.utils import timezone

from intake.audit.actions import Action
from intake.interviews import participants
from intake.interviews import services as interviews
from intake.interviews.lifecycle import STANDS
from intake.interviews.models import State
from intake.jobs.models import Kind
from intake.readiness import missing_before_submission
from intake.workflow import submit
from tests.factories import (
    a_description,
    a_part_arriving,
    a_part_received,
    a_part_stored,
    a_started_interview,
    an_interview,
    interviewer_of,
    narrator_of,
    run_jobs,
    sha256,
)
from tests.workflow.told import is_now, last_event, refused

pytestmark = pytest.mark.django_db


@pytest.fixture
def interview(volunteer):
    """Not yet ready: it has no recording."""
    return a_started_interview(volunteer)


def test_an_interview_with_its_recording_is_handed_in(interview, volunteer):
    a_part_stored(interview)
    before = timezone.now()
    submit(interview.pk, actor=volunteer)
    interview.refresh_from_db()
    assert interview.state == State.SUBMITTED
    assert interview.submitted_at >= before
    assert last_event(interview) == (Action.SUBMITTED, volunteer, {"arrival_receipt": interview.arrivals.get().number})


def test_a_missing_signature_does_not_stop_the_hand_in(interview, volunteer):
    a_part_stored(interview)
    assert missing_before_submission(interview) == []


def test_nothing_is_handed_in_without_a_recording(interview, volunteer):
    assert refused(submit, interview.pk, actor=volunteer) == ("Add at least one recording.",)


def test_a_recording_that_was_taken_out_does_not_count(interview, volunteer):
    part = a_part_stored(interview)
    interviews.remove_part(part.pk, actor=volunteer)
    assert refused(submit, interview.pk, actor=volunteer) == ("Add at least one recording.",)


def test_a_recording_on_its_way_is_waited_for(interview, volunteer):
    a_part_stored(interview)
    a_part_arriving(interview, b"abc", "B.WAV")
    assert refused(submit, interview.pk, actor=volunteer) == ("Part 2, “B.WAV”, has not finished arriving.",)


def test_a_recording_that_was_not_compared_is_waited_for(interview, volunteer):
    a_part_received(interview, name="A.WAV")
    assert refused(submit, interview.pk, actor=volunteer) == (
        "Part 1, “A.WAV”, is being compared with the file on your computer.",
    )


def test_a_damaged_recording_is_not_handed_in(interview, volunteer):
    a_part_received(interview, b"arrived like this", name="A.WAV", declared=sha256(b"but left like that"))
    run_jobs(Kind.STORE_UPLOAD)
    assert refused(submit, interview.pk, actor=volunteer) == (
        "Part 1, “A.WAV”, arrived damaged: take it out and hand it in again.",
    )


@pytest.mark.parametrize("summary", ["", "  \n "])
def test_an_interview_says_what_it_is_about(volunteer, summary):
    interview = a_started_interview(volunteer, summary=summary)
    a_part_stored(interview)
    assert refused(submit, interview.pk, actor=volunteer) == ("Write a few words on what the interview is about.",)


@pytest.mark.parametrize(("who", "told"), [(narrator_of, "narrator"), (interviewer_of, "interviewer")])
def test_an_interview_names_its_people(interview, volunteer, who, told):
    a_part_stored(interview)
    participants.remove_participant(who(interview).pk, actor=volunteer)
    assert refused(submit, interview.pk, actor=volunteer) == (f"Name the {told}.",)


def test_all_that_is_missing_is_told_at_once(volunteer):
    interview = a_started_interview(volunteer, summary="")
    participants.remove_participant(narrator_of(interview).pk, actor=volunteer)
    assert refused(submit, interview.pk, actor=volunteer) == (
        "Add at least one recording.",
        "Write a few words on what the interview is about.",
        "Name the narrator.",
    )


def test_a_returned_interview_can_be_handed_in_again(volunteer):
    interview = an_interview(State.RETURNED, owner=volunteer)
    first = interview.submitted_at
    interviews.describe(interview.pk, actor=volunteer, description=a_description(place="On board"))
    submit(interview.pk, actor=volunteer)
    interview.refresh_from_db()
    assert (interview.state, interview.place) == (State.SUBMITTED, "On board")
    assert interview.submitted_at > first


@pytest.mark.parametrize(
    "state", [State.SUBMITTED, State.IN_REVIEW, State.ACCEPTED, State.DECLINED, State.WITHDRAWN], ids=str
)
def test_what_is_not_with_the_volunteer_is_not_handed_in(state):
    interview = an_interview(state)
    (told,) = refused(submit, interview.pk, actor=interview.owner)
    assert told == STANDS[state]
    assert is_now(interview) == state
