"""May this person see, hear, take or keep this, now? One table, pure; asked by every page, stream, copy and package.

`docs/who-may.md` shows the same table to people, and a test compares the two. Nothing in the table means no.
"""

from dataclasses import dataclass
from enum import Enum, Flag, StrEnum, auto

from intake.interviews.models import State
from intake.releases.models import Access
from intake.releases.restrictions import Restriction


class Audience(StrEnum):
    """Who asks."""

    STAFF = "the library's staff"
    KEEPER = "the volunteer who looks after it"
    PARTY = "whoever signed for it"
    READING_ROOM = "a visitor in the library"
    PUBLIC = "anybody"


class Act(Flag):
    """What they ask for."""

    SEE = auto()  # know that it exists, and read its description
    HEAR = auto()  # listen to it, and look at what came with it
    TAKE = auto()  # have a copy that leaves the library; closed passages are silent in it
    KEEP = auto()  # handle the originals, described copies and packages, with everything that is closed in them


class Situation(Enum):
    """How an interview stands, as far as access depends on it; the value says so to people."""

    UNDECIDED = "The library has not accepted this interview yet."
    DECLINED = "The library has declined this interview."
    WITHDRAWN = "This interview was withdrawn before it was accepted."
    UNSIGNED = "Not everybody has signed, or a release was withdrawn."
    CONTESTED = "Somebody has asked to withdraw this interview, and the library has not decided yet."
    TAKEN_DOWN = "This interview was taken down at the wish of somebody whom it concerns."
    CLOSED = "It is closed."
    ON_SITE = "It may be heard in the library alone."
    OPEN = "It is open to anybody."


@dataclass(frozen=True)
class Terms:
    """What access to one interview depends on, on one day."""

    state: State
    is_signed: bool
    is_contested: bool
    restriction: Restriction | None


@dataclass(frozen=True)
class Answer:
    """Whether they may, and why not, in a sentence."""

    allowed: bool
    because: str


NOTHING = Act(0)
LOOK = Act.SEE | Act.HEAR
TABLE: dict[Situation, dict[Audience, Act]] = {
    Situation.UNDECIDED: {Audience.STAFF: LOOK | Act.KEEP, Audience.KEEPER: LOOK, Audience.PARTY: LOOK},
    Situation.DECLINED: {Audience.STAFF: LOOK | Act.KEEP, Audience.KEEPER: LOOK, Audience.PARTY: Act.SEE},
    Situation.WITHDRAWN: {Audience.STAFF: Act.SEE, Audience.KEEPER: Act.SEE},
    Situation.UNSIGNED: {Audience.STAFF: LOOK | Act.KEEP, Audience.KEEPER: LOOK, Audience.PARTY: LOOK},
    Situation.CONTESTED: {Audience.STAFF: LOOK, Audience.KEEPER: Act.SEE, Audience.PARTY: Act.SEE},
    Situation.TAKEN_DOWN: {Audience.STAFF: Act.SEE, Audience.KEEPER: Act.SEE, Audience.PARTY: Act.SEE},
    Situation.CLOSED: {
        Audience.STAFF: LOOK | Act.TAKE | Act.KEEP,
        Audience.KEEPER: LOOK,
        Audience.PARTY: LOOK | Act.TAKE,
    },
    Situation.ON_SITE: {
        Audience.STAFF: LOOK | Act.TAKE | Act.KEEP,
        Audience.KEEPER: LOOK,
        Audience.PARTY: LOOK | Act.TAKE,
        Audience.READING_ROOM: LOOK,
        Audience.PUBLIC: Act.SEE,
    },
    Situation.OPEN: {
        Audience.STAFF: LOOK | Act.TAKE | Act.KEEP,
        Audience.KEEPER: LOOK,
        Audience.PARTY: LOOK | Act.TAKE,
        Audience.READING_ROOM: LOOK,
        Audience.PUBLIC: LOOK | Act.TAKE,
    },
}
BEFORE_ACCEPTANCE = {State.DRAFT, State.SUBMITTED, State.IN_REVIEW, State.RETURNED}
WHY_NOT = {
    Act.SEE: "It is not shown now.",
    Act.HEAR: "It cannot be heard now.",
    Act.TAKE: "No copy of it may leave now.",
    Act.KEEP: "Its originals are not handed out now.",
}


def situation(terms: Terms) -> Situation:
    """How an interview stands: what forbids most comes first."""
    if terms.state == State.TAKEN_DOWN:
        return Situation.TAKEN_DOWN
    if terms.state == State.WITHDRAWN:
        return Situation.WITHDRAWN
    if terms.state == State.DECLINED:
        return Situation.DECLINED
    if terms.state in BEFORE_ACCEPTANCE:
        return Situation.UNDECIDED
    if terms.is_contested:
        return Situation.CONTESTED
    if terms.restriction is None or not terms.is_signed:
        return Situation.UNSIGNED
    if terms.restriction.closed_until:
        return Situation.CLOSED
    return Situation.ON_SITE if terms.restriction.afterwards == Access.ON_SITE else Situation.OPEN


def may(audience: Audience, act: Act, terms: Terms) -> Answer:
    """May this audience do this one thing, as things stand?"""
    stands = situation(terms)
    allowed = act in TABLE[stands].get(audience, NOTHING)
    return Answer(allowed, "" if allowed else f"{stands.value} {WHY_NOT[act]}")
