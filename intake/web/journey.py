"""Where an interview stands on its way, for the journey line at the top of its pages."""

from dataclasses import dataclass, field

from intake.interviews.models import Interview, State

STAGES = ("With the volunteer", "Handed in", "In review", "Accepted", "Catalogued")
_PRESENT = {
    State.DRAFT: 1,
    State.RETURNED: 1,
    State.SUBMITTED: 2,
    State.IN_REVIEW: 3,
    State.ACCEPTED: 4,
    State.CATALOGUED: 5,
}


@dataclass(frozen=True)
class Stage:
    label: str
    status: str


@dataclass(frozen=True)
class Journey:
    """`present` counts from 1; `beside` holds sentences on what is still open beside the stage."""

    stages: list[Stage]
    present: int
    total: int
    label: str
    beside: list[str] = field(default_factory=list)


def journey_of(interview: Interview, beside: list[str]) -> Journey | None:
    """None once the interview was declined, withdrawn or taken down: it is on no way any more."""
    if interview.state in {State.DECLINED, State.WITHDRAWN, State.TAKEN_DOWN}:
        return None
    present = _PRESENT[State(interview.state)]
    stages = [Stage(label, _status(place, present)) for place, label in enumerate(STAGES, start=1)]
    return Journey(stages, present, len(STAGES), interview.get_state_display(), [] if interview.is_taken_in else beside)


def _status(place: int, present: int) -> str:
    if place == present:
        return "present"
    return "done" if place < present else "ahead"


@dataclass(frozen=True)
class NextStep:
    """One sentence, one button, and who waits for whom."""

    sentence: str
    waits_for: str = ""
    action_label: str = ""
    action_url: str = ""
    method: str = "get"
