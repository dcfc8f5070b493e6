"""Closed passages: stretches of a part that stay in the original and are silent in every copy that leaves."""

from collections.abc import Iterable

from django.db import transaction
from django.utils import timezone

from intake.accounts.models import User
from intake.audit.actions import Action
from intake.audit.services import record
from intake.errors import Refused
from intake.interviews import lifecycle
from intake.interviews.models import Part
from intake.jobs.models import Kind
from intake.jobs.services import enqueue
from intake.releases.models import ClosedPassage

Span = tuple[float, float]  # seconds from the beginning of the part: from, to


@transaction.atomic
def close_passage(
    part_id: int, *, from_seconds: float, to_seconds: float, length_seconds: float | None, reason: str, actor: User
) -> ClosedPassage:
    """Staff close a stretch of a part. `length_seconds` is the part's, where it is known."""
    part = _locked(part_id)
    if not actor.is_archivist:
        raise Refused("Only the library's staff close passages. Set a mark, and tell them why in its note.")
    if not reason.strip():
        raise Refused("Say why the passage is closed: whoever looks after the recording in ten years has to know.")
    if not 0 <= from_seconds < to_seconds:
        raise Refused("A passage ends after it begins.")
    if length_seconds is not None and from_seconds >= length_seconds:
        raise Refused("The recording has ended before this passage begins.")
    passage = ClosedPassage.objects.create(
        part=part, from_seconds=from_seconds, to_seconds=to_seconds, reason=reason.strip(), closed_by=actor
    )
    _tell(Action.PASSAGE_CLOSED, passage, reason, actor)
    enqueue(Kind.MAKE_ACCESS_COPIES, part.interview_id)
    return passage


@transaction.atomic
def open_passage(passage_id: int, *, reason: str, actor: User) -> ClosedPassage:
    """Staff open a closed passage again."""
    part_id = ClosedPassage.objects.get(pk=passage_id).part_id
    _locked(part_id)
    passage = ClosedPassage.objects.select_related("part__interview").get(pk=passage_id)
    if not actor.is_archivist:
        raise Refused("Only the library's staff open passages.")
    if not reason.strip():
        raise Refused("Say why the passage is opened again.")
    if passage.opened_at:
        raise Refused("This passage was opened already.")
    passage.opened_by, passage.opened_at, passage.opened_because = actor, timezone.now(), reason.strip()
    passage.save(update_fields=["opened_by", "opened_at", "opened_because"])
    _tell(Action.PASSAGE_OPENED, passage, reason, actor)
    enqueue(Kind.MAKE_ACCESS_COPIES, passage.part.interview_id)
    return passage


def closed_passages(part: Part) -> list[ClosedPassage]:
    """Those that are closed now, in the order of the recording. Uses prefetched passages where there are any."""
    return [passage for passage in part.closed_passages.all() if passage.opened_at is None]


def silences(part: Part) -> tuple[Span, ...]:
    """The closed stretches, those that meet or overlap joined."""
    return joined((passage.from_seconds, passage.to_seconds) for passage in closed_passages(part))


def joined(spans: Iterable[Span]) -> tuple[Span, ...]:
    found: list[Span] = []
    for begins, ends in sorted(spans):
        if found and begins <= found[-1][1]:
            found[-1] = (found[-1][0], max(found[-1][1], ends))
        else:
            found.append((begins, ends))
    return tuple(found)


def _locked(part_id: int) -> Part:
    """The part, under the lock of its interview, so that no copy is given out between two decisions."""
    part = Part.objects.select_related("interview").get(pk=part_id)
    lifecycle.locked(part.interview_id)
    return part


def _tell(action: Action, passage: ClosedPassage, reason: str, actor: User) -> None:
    record(
        actor=actor,
        action=action,
        subject=passage,
        thread=passage.interview,
        names={"reason": reason.strip()},
        part=passage.part_id,
        from_seconds=passage.from_seconds,
        to_seconds=passage.to_seconds,
    )
