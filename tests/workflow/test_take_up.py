"""An archivist begins a review."""

import pytest

from intake.audit.actions import Action
from intake.interviews.lifecycle import STANDS
from intake.interviews.models import State
from intake.workflow import submit, take_up
from tests.factories import an_archivist, an_interview
from tests.workflow.told import last_event, refused

pytestmark = pytest.mark.django_db


def test_whoever_takes_it_up_is_its_reviewer(archivist):
    interview = an_interview(State.SUBMITTED)
    take_up(interview.pk, actor=archivist)
    interview.refresh_from_db()
    assert (interview.state, interview.reviewer) == (State.IN_REVIEW, archivist)
    assert last_event(interview) == (Action.TAKEN_UP, archivist, {})


def test_an_interview_handed_in_again_may_be_taken_up_by_somebody_else(archivist):
    first = an_archivist("Somebody Else")
    interview = an_interview(State.RETURNED, reviewer=first)
    interview = handed_in_again(interview)
    take_up(interview.pk, actor=archivist)
    interview.refresh_from_db()
    assert interview.reviewer == archivist


def test_what_somebody_reviews_already_is_not_taken_up(archivist):
    interview = an_interview(State.IN_REVIEW, reviewer=archivist)
    assert refused(take_up, interview.pk, actor=archivist) == ("This interview is in review already.",)


@pytest.mark.parametrize("state", [State.DRAFT, State.RETURNED, State.DECLINED, State.WITHDRAWN], ids=str)
def test_only_what_was_handed_in_is_taken_up(state, archivist):
    (told,) = refused(take_up, an_interview(state).pk, actor=archivist)
    assert told == STANDS[state]


def handed_in_again(interview):
    return submit(interview.pk, actor=interview.owner)


def test_taking_up_is_no_way_to_undo_an_acceptance(archivist):
    """The table allows the way back to in review, for two people together."""
    assert refused(take_up, an_interview(State.ACCEPTED).pk, actor=archivist) == (
        "This interview is accepted. Only two people together undo an acceptance that was a mistake.",
    )
