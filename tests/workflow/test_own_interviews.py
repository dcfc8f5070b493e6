"""Staff do not judge what they gave or took part in, unless nobody else can (docs/decisions/0013)."""

import pytest

from intake.accounts.models import Role, User
from intake.audit.actions import Action
from intake.audit.services import story_of
from intake.interviews import participants
from intake.interviews.models import State
from intake.workflow import accept, decline, send_back, submit, take_over, take_up
from tests.factories import a_user, an_archivist, an_interview
from tests.workflow.told import is_now, last_event, refused

pytestmark = pytest.mark.django_db
OWN = "You gave this interview or take part in it, so somebody else of the staff reviews it."


@pytest.fixture
def own(archivist):
    return an_interview(State.SUBMITTED, owner=archivist, ready=True)


def alone(interview, archivist):
    """Begin the review while nobody else of the staff has an account that works."""
    User.objects.exclude(pk=archivist.pk).filter(role__in=[Role.ARCHIVIST, Role.COORDINATOR]).update(is_active=False)
    return take_up(interview.pk, actor=archivist)


def test_another_member_of_staff_reviews_it(own, archivist, coordinator):
    assert refused(take_up, own.pk, actor=archivist) == (OWN,)
    take_up(own.pk, actor=coordinator)
    assert accept(own.pk, actor=coordinator)


def test_whoever_is_named_in_it_does_not_review_it(volunteer, archivist, coordinator):
    interview = an_interview(State.DRAFT, owner=volunteer)
    participants.add_participant(
        interview.pk, name="Ines Halloway", email=archivist.email, role="interviewer", actor=archivist
    )
    submit(interview.pk, actor=volunteer)
    assert refused(take_up, interview.pk, actor=archivist) == (OWN,)
    assert take_up(interview.pk, actor=coordinator)


def test_a_lone_archivist_reviews_it_and_the_events_say_so(own, archivist):
    alone(own, archivist)
    assert is_now(own) == State.IN_REVIEW
    assert last_event(own) == (Action.OWN_INTERVIEW_REVIEWED, archivist, {})
    accession = accept(own.pk, actor=archivist)
    assert last_event(own) == (
        Action.ACCEPTED,
        archivist,
        {
            "accession": accession.number,
            "own_interview": True,
            "worth_knowing": ["The reviewer has heard 0 % of the recording."],
        },
    )


def test_two_who_both_take_part_are_as_good_as_nobody_else(own, archivist, coordinator):
    """There is nobody of the staff without a part in it, so one of the two reviews it."""
    User.objects.exclude(pk__in=[archivist.pk, coordinator.pk]).filter(role=Role.ARCHIVIST).update(is_active=False)
    User.objects.filter(role=Role.COORDINATOR).exclude(pk=coordinator.pk).update(is_active=False)
    interview = an_interview(State.DRAFT, owner=archivist)
    participants.add_participant(
        interview.pk, name="Ottilie Brandt", email=coordinator.email, role="narrator", actor=coordinator
    )
    User.objects.exclude(pk__in=[archivist.pk, coordinator.pk]).update(is_active=False)
    submit(interview.pk, actor=archivist)
    assert take_up(interview.pk, actor=coordinator).reviewer == coordinator


def test_what_is_not_ones_own_is_told_without_more(volunteer, archivist):
    interview = an_interview(State.SUBMITTED, owner=volunteer)
    take_up(interview.pk, actor=archivist)
    assert Action.OWN_INTERVIEW_REVIEWED not in [event.action for event in story_of(interview)]


def test_once_somebody_else_has_come_they_decide(own, archivist):
    alone(own, archivist)
    colleague = a_user("Rowan Pike", role=Role.ARCHIVIST)
    assert refused(accept, own.pk, actor=archivist) == (OWN,)
    assert refused(send_back, own.pk, message="x", actor=archivist) == (OWN,)
    assert refused(decline, own.pk, reason="x", actor=archivist) == (OWN,)
    take_over(own.pk, actor=colleague)
    assert last_event(own) == (Action.REVIEW_TAKEN_OVER, colleague, {"from": "Ines Halloway"})
    assert accept(own.pk, actor=colleague)


def test_the_review_of_somebody_who_left_is_taken_over(volunteer, archivist, coordinator):
    interview = an_interview(State.IN_REVIEW, owner=volunteer, reviewer=archivist)
    User.objects.filter(pk=archivist.pk).update(is_active=False)
    assert take_over(interview.pk, actor=coordinator).reviewer == coordinator
    assert is_now(interview) == State.IN_REVIEW


def test_a_review_in_good_hands_is_not_taken_over(volunteer, archivist, coordinator):
    interview = an_interview(State.IN_REVIEW, owner=volunteer, reviewer=archivist)
    (told,) = refused(take_over, interview.pk, actor=coordinator)
    assert told.startswith("This review is in good hands")


def test_nobody_takes_over_their_own(own, archivist, coordinator):
    take_up(own.pk, actor=coordinator)
    User.objects.filter(pk=coordinator.pk).update(is_active=False)
    an_archivist("Bela Thorn")
    assert refused(take_over, own.pk, actor=archivist) == (OWN,)


@pytest.mark.parametrize("state", [State.SUBMITTED, State.ACCEPTED], ids=str)
def test_only_a_review_is_taken_over(state, coordinator):
    assert refused(take_over, an_interview(state).pk, actor=coordinator)


def test_volunteers_take_nothing_over(volunteer, archivist):
    interview = an_interview(State.IN_REVIEW, owner=volunteer, reviewer=archivist)
    User.objects.filter(pk=archivist.pk).update(is_active=False)
    assert refused(take_over, interview.pk, actor=volunteer) == ("Only the library's staff review interviews.",)
