"""The narrator's turn: hear the recording before it is accepted, wish passages closed, put names right, say yes."""

from datetime import date

from django.db import transaction
from django.utils import formats, timezone

from intake.accounts.models import User
from intake.audit.actions import Action
from intake.audit.services import record
from intake.errors import Refused
from intake.interviews import lifecycle
from intake.interviews.models import Interview, Part, Participant, State
from intake.releases.models import NarratorsTurn, Wish
from intake.releases.passages import close_passage

HEARABLE = frozenset({State.SUBMITTED, State.IN_REVIEW})
MOST_WISHES = 100


@transaction.atomic
def begin(participant_id: int, *, until: date, actor: User) -> NarratorsTurn:
    """Staff ask a narrator to hear the recording by a day. Asked again, the day is the new one."""
    participant = Participant.objects.select_related("interview", "person").get(pk=participant_id)
    interview = lifecycle.locked(participant.interview_id)
    if not actor.is_archivist:
        raise Refused("Only the library's staff offer a narrator to hear the recording first.")
    if interview.state not in HEARABLE:
        raise Refused(
            f"The interview is {interview.get_state_display().lower()}: a narrator hears it while it is reviewed."
        )
    if until <= timezone.localdate():
        raise Refused("Give the narrator at least until tomorrow.")
    turn = participant.turns.filter(answered_at=None).first() or NarratorsTurn(participant=participant)
    turn.until, turn.asked_by = until, actor
    turn.save()
    record(
        actor=actor,
        action=Action.TURN_OFFERED,
        subject=turn,
        thread=interview,
        names={"narrator": participant.person.name},
        until=until.isoformat(),
    )
    return turn


@transaction.atomic
def wish(turn_id: int, *, part_id: int, from_seconds: float, to_seconds: float, reason: str) -> Wish:
    """The narrator wishes a passage closed. Staff decide; nothing is closed yet."""
    turn = _open(turn_id)
    part = Part.objects.filter(pk=part_id, interview=turn.participant.interview, position__isnull=False).first()
    if part is None:
        raise Refused("Choose the part in which it is heard.")
    if not 0 <= from_seconds < to_seconds:
        raise Refused("A passage ends after it begins.")
    if turn.wishes.count() >= MOST_WISHES:
        raise Refused("That is more than we can take in here. Write to the library, or say that you want to withdraw.")
    return Wish.objects.create(
        turn=turn, part=part, from_seconds=from_seconds, to_seconds=to_seconds, reason=reason.strip()
    )


@transaction.atomic
def take_back(turn_id: int, wish_id: int) -> None:
    """The narrator does not wish it any more."""
    _open(turn_id).wishes.filter(pk=wish_id, decided_at=None).update(taken_back_at=timezone.now())


@transaction.atomic
def answer(turn_id: int, *, corrections: str) -> NarratorsTurn:
    """The narrator is done: what was wished stands, and the recording is right for them with it."""
    turn = _open(turn_id)
    turn.answered_at, turn.corrections = timezone.now(), corrections.strip()
    turn.save(update_fields=["answered_at", "corrections"])
    record(
        actor=None,
        action=Action.TURN_ANSWERED,
        subject=turn,
        thread=turn.participant.interview,
        names={"narrator": turn.participant.person.name, "corrections": turn.corrections},
        wishes=len(wishes_of(turn)),
    )
    return turn


@transaction.atomic
def decide(wish_id: int, *, close: bool, reason: str, actor: User) -> Wish:
    """Staff close the passage that was wished closed, or say why not."""
    found = Wish.objects.select_related("turn__participant__interview", "turn__participant__person").get(pk=wish_id)
    lifecycle.locked(found.turn.participant.interview_id)
    found.refresh_from_db()
    if not actor.is_archivist:
        raise Refused("Only the library's staff decide what is closed.")
    if found.decided_at or found.taken_back_at:
        raise Refused("This wish is not open any more.")
    if close:
        found.passage = close_passage(
            found.part_id,
            from_seconds=found.from_seconds,
            to_seconds=found.to_seconds,
            length_seconds=None,
            reason=f"Wished by the narrator. {found.reason}".strip(),
            actor=actor,
        )
    elif not reason.strip():
        raise Refused("Say why the passage is not closed. The narrator may ask.")
    else:
        found.declined_because = reason.strip()
    found.decided_by, found.decided_at = actor, timezone.now()
    found.save()
    record(
        actor=actor,
        action=Action.WISH_DECIDED,
        subject=found,
        thread=found.turn.participant.interview,
        names={"narrator": found.turn.participant.person.name, "reason": found.declined_because},
        closed=close,
    )
    return found


def wishes_of(turn: NarratorsTurn) -> list[Wish]:
    """What is wished, in the order of the recording; what was taken back is left out."""
    return list(turn.wishes.filter(taken_back_at=None).select_related("part__upload", "decided_by"))


def turns_of(interview: Interview) -> list[NarratorsTurn]:
    return list(
        NarratorsTurn.objects.filter(participant__interview=interview).select_related("participant__person", "asked_by")
    )


def waiting_for(interview: Interview) -> list[str]:
    """What a turn keeps open before acceptance: sentences. After its day the library goes on, as the wording says."""
    today = timezone.localdate()
    turns = turns_of(interview)
    unanswered = [
        f"{turn.participant.person} may hear the recording until {formats.date_format(turn.until)}."
        for turn in turns
        if turn.answered_at is None and turn.until >= today
    ]
    undecided = sum(each.decided_at is None for turn in turns for each in wishes_of(turn))
    count = "1 wish" if undecided == 1 else f"{undecided} wishes"
    return unanswered + ([f"{count} to close a passage to be decided."] if undecided else [])


def open_turn(participant: Participant) -> NarratorsTurn | None:
    return participant.turns.filter(answered_at=None, until__gte=timezone.localdate()).first()


def _open(turn_id: int) -> NarratorsTurn:
    """The turn, under the lock of its interview, while it can be answered. Raises Refused."""
    turn = NarratorsTurn.objects.select_related("participant__interview", "participant__person").get(pk=turn_id)
    interview = lifecycle.locked(turn.participant.interview_id)
    turn.refresh_from_db(fields=["answered_at", "until"])
    if turn.answered_at or turn.until < timezone.localdate() or interview.state not in HEARABLE:
        raise Refused("Your turn has ended. Write to the library if something is still on your mind.")
    return turn
