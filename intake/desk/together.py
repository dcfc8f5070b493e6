"""One thing done to several interviews: each on its own, safe to ask for again, and told in a few sentences."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

from intake.errors import DoneAlready, Refused
from intake.interviews.models import Interview


@dataclass
class Outcome:
    """Which interviews it was done to, which stood so before, and why not the others: titles by reason."""

    done: list[str] = field(default_factory=list)
    before: list[str] = field(default_factory=list)
    refused: dict[str, list[str]] = field(default_factory=dict)


def do_to_each(interviews: Iterable[Interview], do: Callable[[int], object]) -> Outcome:
    """Each in a transaction of its own: one that is refused does not undo the others."""
    outcome = Outcome()
    for interview in interviews:
        try:
            do(interview.pk)
            outcome.done.append(interview.title)
        except DoneAlready:
            outcome.before.append(interview.title)
        except Refused as refused:
            for reason in refused.reasons:
                outcome.refused.setdefault(reason, []).append(interview.title)
    return outcome
