"""Who may make a move: the service says so itself, whatever page it is asked from."""

import pytest

from intake import workflow
from intake.interviews.models import State
from tests.factories import an_interview
from tests.workflow.told import refused

pytestmark = pytest.mark.django_db


def test_a_volunteer_does_not_review(volunteer) -> None:
    interview = an_interview(state=State.SUBMITTED)
    assert refused(workflow.take_up, interview.pk, actor=volunteer) == ("Only the library's staff review interviews.",)


def test_nobody_hands_in_or_withdraws_somebody_elses_interview(other_volunteer) -> None:
    interview = an_interview(state=State.DRAFT)
    told = ("This interview is somebody else's.",)
    assert refused(workflow.submit, interview.pk, actor=other_volunteer) == told
    assert refused(workflow.withdraw, interview.pk, reason="Not mine", actor=other_volunteer) == told


def test_staff_hand_in_for_a_volunteer_who_asks(archivist) -> None:
    interview = an_interview(state=State.DRAFT, ready=True)
    assert workflow.submit(interview.pk, actor=archivist).state == State.SUBMITTED
