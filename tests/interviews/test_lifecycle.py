"""The table of moves, walked over all pairs of states."""

import re
from itertools import product

import pytest
from django.db import IntegrityError, transaction

from intake.audit.actions import Action
from intake.audit.services import story_of
from intake.errors import Refused
from intake.interviews import lifecycle
from intake.interviews.models import Interview, State
from tests.factories import an_interview

pytestmark = pytest.mark.django_db

# Written out by hand from the domain's own picture, so that a slip in the program's table shows.
ALLOWED = {
    ("draft", "submitted"),
    ("draft", "withdrawn"),
    ("submitted", "in_review"),
    ("submitted", "withdrawn"),
    ("in_review", "submitted"),
    ("in_review", "accepted"),
    ("in_review", "returned"),
    ("in_review", "declined"),
    ("in_review", "withdrawn"),
    ("accepted", "in_review"),
    ("accepted", "catalogued"),
    ("catalogued", "accepted"),
    ("catalogued", "taken_down"),
    ("accepted", "taken_down"),
    ("returned", "submitted"),
    ("returned", "withdrawn"),
}


def move(interview: Interview, to: State) -> Interview:
    with transaction.atomic():
        locked = lifecycle.locked(interview.pk)
        return lifecycle.move(locked, to=to, actor=interview.owner, action=Action.SUBMITTED)


@pytest.mark.parametrize("now", list(State), ids=str)
def test_from_each_state_only_the_moves_of_the_table_are_allowed(now):
    interview = an_interview(now)
    for to in State:
        if (now, to) in ALLOWED:
            with transaction.atomic():
                assert move(interview, to).state == to
                assert Interview.objects.get(pk=interview.pk).state == to
                transaction.set_rollback(True)
        else:
            with pytest.raises(Refused, match=re.escape(lifecycle.STANDS[now])):
                move(interview, to)
            assert Interview.objects.get(pk=interview.pk).state == now


def test_every_pair_of_states_was_decided():
    assert {(now, to) for now, to in product(State, State) if to in lifecycle.MOVES[now]} == ALLOWED
    assert set(lifecycle.MOVES) == set(State)


def test_a_move_records_its_event():
    interview = an_interview(State.DRAFT)
    move(interview, State.SUBMITTED)
    last = story_of(interview).last()
    assert (last.action, last.actor) == (Action.SUBMITTED, interview.owner)


def test_a_refused_move_records_nothing():
    interview = an_interview(State.DRAFT)
    before = story_of(interview).count()
    with pytest.raises(Refused):
        move(interview, State.ACCEPTED)
    assert story_of(interview).count() == before


@pytest.mark.parametrize("state", list(State), ids=str)
def test_an_interview_is_changed_only_while_it_is_with_the_volunteer(state):
    interview = an_interview(state)
    with transaction.atomic():
        if state in {State.DRAFT, State.RETURNED}:
            assert lifecycle.editable(interview.pk) == interview
        else:
            with pytest.raises(Refused, match="with the library now"):
                lifecycle.editable(interview.pk)


def test_the_database_refuses_a_state_that_nobody_knows():
    interview = an_interview(State.DRAFT)
    with pytest.raises(IntegrityError, match="interview_has_a_known_state"), transaction.atomic():
        Interview.objects.filter(pk=interview.pk).update(state="lost")
