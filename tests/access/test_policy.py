"""The policy: every audience, act, state, restriction and day. docs/who-may.md is the table it is held against."""

import re
from datetime import date, timedelta
from itertools import product

import pytest

from intake.access.policy import TABLE, Act, Audience, Situation, Terms, may, situation
from intake.interviews.models import TAKEN_IN, State
from intake.releases.models import Access
from intake.releases.restrictions import Restriction
from tests.architecture.source import ROOT

PAGE = (ROOT / "docs/who-may.md").read_text()
TODAY = date(2026, 11, 27)
OPEN = Restriction(None, (), Access.OPEN, ())
ON_SITE = Restriction(None, (), Access.ON_SITE, ())
CLOSED = Restriction(TODAY + timedelta(days=1), (), Access.OPEN, ())
CLOSED_THEN_ON_SITE = Restriction(TODAY + timedelta(days=1), ("the sale of the house",), Access.ON_SITE, ("narrator",))
RESTRICTIONS = [None, OPEN, ON_SITE, CLOSED, CLOSED_THEN_ON_SITE]


def table_of_the_page() -> dict[tuple[str, str], set[str]]:
    """(situation, audience) -> the acts that the page names."""
    rows = [[cell.strip() for cell in line.strip("|").split("|")] for line in PAGE.splitlines() if line.startswith("|")]
    heads, body = rows[0], rows[2:]
    return {
        (re.split(r"[: ]", row[0])[0], audience): {act.strip() for act in cell.split(",")} - {"-"}
        for row in body
        for audience, cell in zip(heads[1:], row[1:], strict=True)
    }


def all_terms() -> list[Terms]:
    return [Terms(*terms) for terms in product(State, [True, False], [True, False], RESTRICTIONS)]


@pytest.mark.parametrize("audience", Audience)
@pytest.mark.parametrize("stands", Situation)
def test_the_page_tells_the_table(stands, audience):
    told = table_of_the_page()[stands.name, audience.value]
    assert told == {act.name.lower() for act in TABLE[stands].get(audience, Act(0))}


def test_the_page_has_a_row_for_each_way_to_stand():
    assert {stands for stands, _ in table_of_the_page()} == set(Situation.__members__)


@pytest.mark.parametrize("terms", all_terms(), ids=str)
def test_every_state_and_restriction_is_answered_for_everybody(terms):
    for audience, act in product(Audience, Act):
        answer = may(audience, act, terms)
        assert answer.allowed == (act.name.lower() in table_of_the_page()[situation(terms).name, audience.value])
        assert bool(answer.because) != answer.allowed


@pytest.mark.parametrize("terms", all_terms(), ids=str)
def test_what_must_never_be(terms):
    """Written apart from the table: promises that no change of it may break."""
    outside = [Audience.READING_ROOM, Audience.PUBLIC]
    allowed = {(who, act): may(who, act, terms).allowed for who, act in product(Audience, Act)}
    if terms.state not in TAKEN_IN or not terms.is_signed or terms.is_contested or terms.restriction is None:
        assert not any(allowed[who, act] for who, act in product(outside, Act))
        assert not any(allowed[who, Act.TAKE] for who in Audience)
    if terms.restriction and terms.restriction.closed_until:
        assert not any(allowed[who, act] for who, act in product(outside, Act))
    if terms.restriction and terms.restriction.afterwards == Access.ON_SITE:
        assert not allowed[Audience.PUBLIC, Act.HEAR]
        assert not any(allowed[who, Act.TAKE] for who in outside)
    if terms.state in {State.TAKEN_DOWN, State.WITHDRAWN}:
        assert not any(allowed[who, act] for who, act in product(Audience, [Act.HEAR, Act.TAKE, Act.KEEP]))
    assert not any(allowed[who, Act.KEEP] for who in Audience if who != Audience.STAFF)
    for who, act in product(Audience, Act):
        assert not allowed[who, act] or allowed[who, Act.SEE], "nobody has what they may not know of"


def test_a_refusal_says_why():
    closed = Terms(State.ACCEPTED, is_signed=True, is_contested=False, restriction=CLOSED)
    assert may(Audience.PUBLIC, Act.HEAR, closed).because == "It is closed. It cannot be heard now."
