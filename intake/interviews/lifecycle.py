"""The states of an interview and the table of allowed moves. Nothing else writes the state."""

from typing import Any

from intake.accounts.models import User
from intake.audit.actions import Action
from intake.audit.services import record
from intake.errors import DoneAlready, Refused, refuse_if
from intake.interviews.models import Interview, State

# Who waits for whom is told on the pages; here stands only what may follow what.
MOVES: dict[State, frozenset[State]] = {
    State.DRAFT: frozenset({State.SUBMITTED, State.WITHDRAWN}),
    State.SUBMITTED: frozenset({State.IN_REVIEW, State.WITHDRAWN}),
    State.IN_REVIEW: frozenset({State.ACCEPTED, State.RETURNED, State.DECLINED, State.WITHDRAWN, State.SUBMITTED}),
    State.RETURNED: frozenset({State.SUBMITTED, State.WITHDRAWN}),
    # Undoing takes two people: workflow.propose_undo, workflow.confirm_undo.
    State.ACCEPTED: frozenset({State.CATALOGUED, State.IN_REVIEW, State.TAKEN_DOWN}),
    State.CATALOGUED: frozenset({State.ACCEPTED, State.TAKEN_DOWN}),
    State.DECLINED: frozenset(),
    State.WITHDRAWN: frozenset(),
    State.TAKEN_DOWN: frozenset(),
}
# Told to somebody whose move comes too late, or twice.
STANDS: dict[State, str] = {
    State.DRAFT: "This interview has not been handed in yet.",
    State.SUBMITTED: "This interview has been handed in already.",
    State.IN_REVIEW: "This interview is in review already.",
    State.RETURNED: "This interview has been sent back to the volunteer already.",
    State.ACCEPTED: "This interview has been accepted already.",
    State.CATALOGUED: "This interview has been catalogued already.",
    State.DECLINED: "This interview has been declined already.",
    State.WITHDRAWN: "This interview has been withdrawn already.",
    State.TAKEN_DOWN: "This interview has been taken down already.",
}
# Nobody has decided yet.
OPEN = frozenset({State.DRAFT, State.SUBMITTED, State.IN_REVIEW, State.RETURNED})
# In these states the volunteer may still change the description, the people and the parts.
WITH_THE_VOLUNTEER = frozenset({State.DRAFT, State.RETURNED})


def locked(interview_id: int) -> Interview:
    """The interview, its row locked until the transaction ends, so that two moves at once happen in turn."""
    return Interview.objects.select_for_update().get(pk=interview_id)


def forbidden(interview: Interview, *, to: State) -> list[str]:
    """Why the table does not allow the move: a sentence, none if it does."""
    now = State(interview.state)
    return [] if to in MOVES[now] else [STANDS[now]]


def refuse_unless_allowed(interview: Interview, *, to: State) -> None:
    """Raise DoneAlready where the interview stands there already, Refused where the table says no."""
    if interview.state == to:
        raise DoneAlready(STANDS[to])
    refuse_if(forbidden(interview, to=to))


def move(interview: Interview, *, to: State, actor: User, action: Action, **details: Any) -> Interview:
    """Write the new state and its event, if the table allows the move. The caller holds the lock."""
    refuse_unless_allowed(interview, to=to)
    interview.state = to
    interview.save()
    record(actor=actor, action=action, subject=interview, **details)
    return interview


def editable(interview_id: int) -> Interview:
    """The interview, locked, if it is with the volunteer. Raises Refused."""
    interview = locked(interview_id)
    if interview.state not in WITH_THE_VOLUNTEER:
        raise Refused(
            "This interview is with the library now, so it cannot be changed here. Ask for it to be sent back."
        )
    return interview
