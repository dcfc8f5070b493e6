"""The volunteer takes the interview back before it is accepted."""

import pytest
from django.core.files.storage import storages

from intake.audit.actions import Action
from intake.interviews.lifecycle import STANDS
from intake.interviews.models import State
from intake.interviews.services import parts_of
from intake.workflow import withdraw
from tests.factories import an_interview
from tests.workflow.told import is_now, last_event, refused

pytestmark = pytest.mark.django_db
REASON = "Marit changed her mind."


@pytest.mark.parametrize("state", [State.DRAFT, State.SUBMITTED, State.IN_REVIEW, State.RETURNED], ids=str)
def test_an_interview_is_withdrawn_at_any_time_before_its_acceptance(state):
    interview = an_interview(state)
    withdraw(interview.pk, reason=REASON, actor=interview.owner)
    assert is_now(interview) == State.WITHDRAWN
    assert last_event(interview) == (Action.WITHDRAWN, interview.owner, {"reason": REASON})


def test_nothing_is_deleted(volunteer):
    interview = an_interview(State.DRAFT, owner=volunteer)
    withdraw(interview.pk, reason=REASON, actor=volunteer)
    (part,) = parts_of(interview)
    assert storages["primary"].exists(part.file.key)


@pytest.mark.parametrize("nothing", ["", "  \n"])
def test_nothing_is_withdrawn_without_a_reason(volunteer, nothing):
    interview = an_interview(State.DRAFT, owner=volunteer)
    assert refused(withdraw, interview.pk, reason=nothing, actor=volunteer) == (
        "Say in a few words why the interview is withdrawn.",
    )


@pytest.mark.parametrize("state", [State.ACCEPTED, State.DECLINED, State.WITHDRAWN], ids=str)
def test_after_the_end_nothing_is_withdrawn(state):
    interview = an_interview(state)
    (told,) = refused(withdraw, interview.pk, reason=REASON, actor=interview.owner)
    assert told == STANDS[state]
