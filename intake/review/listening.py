"""What somebody does while they listen: marks at a time, what they have heard, and what the opening says aloud."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db import transaction
from django.utils import formats

from intake.accounts.models import User
from intake.audit.actions import Action
from intake.audit.services import record
from intake.errors import Refused
from intake.interviews import lifecycle
from intake.interviews.models import Interview, Mark, Part, Participant
from intake.releases.passages import Span, joined
from intake.review.models import Heard, OpeningCheck

# SECURITY: more stretches than anybody could listen to at once are nobody's listening.
MOST_SPANS = 500
# Seconds; no recording of a conversation is longer than this (common practice, no source).
LONGEST_SECONDS = 7 * 24 * 3600.0
# Said in an opening by people; the rest is said by everybody (common practice, no source).
NAMED = (Participant.Role.NARRATOR, Participant.Role.INTERVIEWER, Participant.Role.INTERPRETER)


@transaction.atomic
def set_mark(part_id: int, *, kind: str, at_seconds: float, note: str, actor: User) -> Mark:
    """Keep what somebody of the staff notes at a time of a part."""
    part = _part(part_id, actor)
    if kind == Mark.Kind.RECORDER:
        raise Refused("Only the recorder itself sets the recorder's marks.")
    mark = Mark.objects.create(part=part, kind=kind, at_seconds=at_seconds, note=note.strip(), set_by=actor)
    _tell(Action.MARK_SET, mark, actor)
    return mark


@transaction.atomic
def remove_mark(mark_id: int, *, actor: User) -> None:
    """Take away a mark of one's own; the event keeps what it said."""
    mark = _own_mark(mark_id, actor)
    _tell(Action.MARK_REMOVED, mark, actor)
    mark.delete()


@transaction.atomic
def note_heard(part_id: int, *, spans: Iterable[Span], actor: User) -> list[Span]:
    """Add stretches to what this person has heard of a part; all of it, joined. Saying it twice changes nothing."""
    part = Part.objects.select_for_update().get(pk=part_id)
    kept, _ = Heard.objects.get_or_create(part=part, by=actor)
    heard = joined([*map(_span, kept.spans), *spans])
    if len(heard) > MOST_SPANS:
        raise Refused("These are more stretches than anybody listens to.")
    kept.spans = heard
    kept.save(update_fields=["spans"])
    return list(heard)


def heard_seconds(part: Part, by: User | None) -> float:
    """How much of a part somebody has heard, in seconds. Uses prefetched rows where there are any."""
    return sum(ends - begins for one in part.heard.all() if by and one.by_id == by.pk for begins, ends in one.spans)


@dataclass(frozen=True)
class Opening:
    """One thing that the opening should say aloud: what the form has, and whether it was heard."""

    item: str
    label: str
    expected: str
    check: OpeningCheck | None


def opening_of(interview: Interview) -> list[Opening]:
    """Names, day and place, as whoever handed the interview in wrote them."""
    checks = {check.item: check for check in interview.opening_checks.all()}
    asked = [
        (f"participant-{one.pk}", one.get_role_display(), one.person.name)
        for one in interview.participants.all()
        if one.role in NAMED
    ]
    asked += [("day", "Day", formats.date_format(interview.recorded_on)), ("place", "Place", interview.place)]
    return [Opening(item, label, expected, checks.get(item)) for item, label, expected in asked]


@transaction.atomic
def check_opening(interview_id: int, *, item: str, verdict: str, note: str, actor: User) -> OpeningCheck:
    """Note whether the opening says one thing aloud, as the form has it."""
    interview = lifecycle.locked(interview_id)
    _refuse_unless_staff(actor)
    if item not in {one.item for one in opening_of(interview)}:
        raise Refused("The form has no such thing to be said aloud.")
    check, _ = OpeningCheck.objects.update_or_create(
        interview=interview, item=item, defaults={"verdict": verdict, "note": note.strip(), "by": actor}
    )
    record(
        actor=actor,
        action=Action.OPENING_CHECKED,
        subject=interview,
        item=item,
        verdict=verdict,
        names={"note": check.note} if check.note else None,
    )
    return check


def _part(part_id: int, actor: User) -> Part:
    _refuse_unless_staff(actor)
    return Part.objects.select_related("interview").get(pk=part_id)


def _own_mark(mark_id: int, actor: User) -> Mark:
    mark = Mark.objects.select_for_update(of=("self",)).select_related("part__interview").filter(pk=mark_id).first()
    if mark is None:
        raise Refused("This note was taken away already.")
    if mark.set_by_id != actor.pk:
        raise Refused("This note is somebody else's, or the recorder's own.")
    return mark


def _refuse_unless_staff(actor: User) -> None:
    if not actor.is_archivist:
        raise Refused("Only the library's staff note what they hear.")


def _span(pair: list[float]) -> Span:
    return pair[0], pair[1]


def _tell(action: Action, mark: Mark, actor: User) -> None:
    record(
        actor=actor,
        action=action,
        subject=mark,
        thread=mark.part.interview,
        part=mark.part_id,
        at_seconds=mark.at_seconds,
        kind=mark.kind,
        names={"note": mark.note} if mark.note else None,
    )
