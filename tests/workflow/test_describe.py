"""Accepted, described, catalogued; and back into the queue."""

import pytest

from intake import workflow
from intake.audit.actions import Action
from intake.audit.models import Event
from intake.errors import DoneAlready, Refused
from intake.interviews.models import State
from tests.factories import a_user, an_archivist, an_interview, describe_whole

pytestmark = pytest.mark.django_db


@pytest.fixture
def interview(archivist):
    made = an_interview(State.ACCEPTED, reviewer=archivist)
    describe_whole(made, archivist)
    return made


def test_a_complete_description_is_catalogued_and_put_back(interview):
    colleague = an_archivist("Petra Aas")
    assert workflow.describe(interview.pk, actor=colleague).state == State.CATALOGUED
    with pytest.raises(DoneAlready):
        workflow.describe(interview.pk, actor=colleague)
    assert workflow.describe_again(interview.pk, actor=colleague).state == State.ACCEPTED
    with pytest.raises(Refused, match="not catalogued"):
        workflow.describe_again(interview.pk, actor=colleague)
    told = Event.objects.filter(action__in=[Action.CATALOGUED, Action.DESCRIBED_AGAIN]).values_list("actor", flat=True)
    assert list(told) == [colleague.pk, colleague.pk]


def test_what_is_missing_stands_in_the_way(archivist):
    plain = an_interview(State.ACCEPTED, reviewer=archivist)
    with pytest.raises(Refused, match="Choose what the record says of the rights"):
        workflow.describe(plain.pk, actor=archivist)


def test_only_staff_catalogue(interview):
    for actor in (interview.owner, a_user("Lucinda Farrow")):
        with pytest.raises(Refused, match="Only the library's staff"):
            workflow.describe(interview.pk, actor=actor)


def test_what_somebody_asks_to_withdraw_waits(interview, archivist):
    workflow.ask_withdrawal(interview.pk, wished_by="Marit", reason="It hurts.", actor=interview.owner)
    with pytest.raises(Refused, match="asked to withdraw"):
        workflow.describe(interview.pk, actor=archivist)


def test_a_catalogued_interview_is_taken_down_and_not_undone(interview, archivist):
    workflow.describe(interview.pk, actor=archivist)
    with pytest.raises(Refused, match="Put it back into the catalogue queue"):
        workflow.propose_undo(interview.pk, reason="A mistake.", actor=archivist)
    workflow.ask_withdrawal(interview.pk, wished_by="Marit", reason="It hurts.", actor=interview.owner)
    assert workflow.take_down(interview.pk, reason="She is right.", actor=archivist).state == State.TAKEN_DOWN
