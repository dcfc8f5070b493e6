"""A review goes into a colleague's hands, or back into the queue."""

import pytest

from intake.audit.actions import Action
from intake.interviews.lifecycle import STANDS
from intake.interviews.models import State
from intake.workflow import hand_over, put_back, take_up
from tests.factories import a_user, an_archivist, an_interview
from tests.workflow.told import last_event, refused

pytestmark = pytest.mark.django_db


@pytest.fixture
def colleague():
    return an_archivist("Petra Lindqvist")


@pytest.fixture
def interview(archivist):
    return an_interview(State.IN_REVIEW, reviewer=archivist)


def test_the_colleague_is_the_reviewer_and_reads_why(interview, archivist, colleague):
    hand_over(interview.pk, to=colleague, note=" You know her voice. ", actor=archivist)
    interview.refresh_from_db()
    assert (interview.state, interview.reviewer) == (State.IN_REVIEW, colleague)
    names = {"from": archivist.name, "to": "Petra Lindqvist", "note": "You know her voice."}
    assert last_event(interview) == (Action.REVIEW_HANDED_OVER, archivist, names)


def test_a_note_may_be_left_out(interview, archivist, colleague):
    hand_over(interview.pk, to=colleague, note=" ", actor=archivist)
    assert last_event(interview)[2] == {"from": archivist.name, "to": "Petra Lindqvist"}


def test_handing_over_twice_is_told_calmly(interview, archivist, colleague):
    hand_over(interview.pk, to=colleague, note="", actor=archivist)
    again = refused(hand_over, interview.pk, to=colleague, note="", actor=archivist)
    assert again == ("Petra Lindqvist is reviewing this interview already.",)


def test_only_the_reviewer_and_a_coordinator_hand_over(interview, archivist, colleague, coordinator):
    told = refused(hand_over, interview.pk, to=colleague, note="", actor=colleague)
    assert told == (f"{archivist} is reviewing this interview, and hands it over; so may a coordinator.",)
    hand_over(interview.pk, to=colleague, note="", actor=coordinator)
    interview.refresh_from_db()
    assert interview.reviewer == colleague


def test_nobody_gets_a_review_who_cannot_have_one(interview, archivist, colleague):
    volunteer, gone = a_user("Ada Quill"), an_archivist("Corin Vale")
    gone.is_active = False
    gone.save()
    for to in (volunteer, gone):
        assert refused(hand_over, interview.pk, to=to, note="", actor=archivist) == (
            f"{to} does not review interviews.",
        )


def test_nobody_gets_the_review_of_what_they_gave(archivist, colleague, coordinator):
    own = an_interview(State.IN_REVIEW, owner=colleague, reviewer=archivist)
    told = refused(hand_over, own.pk, to=colleague, note="", actor=archivist)
    assert told == ("Petra Lindqvist gave this interview or takes part in it.",)


@pytest.mark.parametrize("state", [state for state in State if state != State.IN_REVIEW], ids=str)
def test_what_is_not_in_review_is_not_handed_over(state, archivist, colleague):
    interview = an_interview(state, reviewer=archivist)
    assert refused(hand_over, interview.pk, to=colleague, note="", actor=archivist) == (
        "This interview is not in review.",
    )


def test_what_is_put_back_waits_for_anybody(interview, archivist, colleague):
    before = interview.submitted_at
    put_back(interview.pk, actor=archivist)
    interview.refresh_from_db()
    assert (interview.state, interview.reviewer, interview.submitted_at) == (State.SUBMITTED, None, before)
    assert last_event(interview) == (Action.REVIEW_PUT_BACK, archivist, {})
    take_up(interview.pk, actor=colleague)


def test_putting_back_twice_is_told_calmly(interview, archivist):
    put_back(interview.pk, actor=archivist)
    assert refused(put_back, interview.pk, actor=archivist) == ("This interview waits for a reviewer already.",)


def test_only_the_reviewer_puts_it_back(interview, archivist, colleague):
    assert refused(put_back, interview.pk, actor=colleague) == (f"{archivist} is reviewing this interview.",)


@pytest.mark.parametrize("state", [State.DRAFT, State.RETURNED, State.ACCEPTED, State.DECLINED], ids=str)
def test_what_is_not_in_review_is_not_put_back(state, archivist):
    interview = an_interview(state, reviewer=archivist)
    assert refused(put_back, interview.pk, actor=archivist) == ("This interview is not in review.",)


def test_what_a_colleague_reviews_is_not_taken_up(interview, colleague, archivist):
    assert refused(take_up, interview.pk, actor=colleague) == (f"{archivist} is reviewing this interview.",)
    assert refused(take_up, interview.pk, actor=archivist) == (STANDS[State.IN_REVIEW],)
