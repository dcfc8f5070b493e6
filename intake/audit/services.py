"""Record an event beside the change it tells of; seal events into a chain; check the chain."""

import hashlib
import json
import secrets
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from django.db import IntegrityError, connection, models, transaction
from django.db.models import QuerySet
from django.utils import timezone

from intake.accounts.models import User
from intake.audit.actions import Action
from intake.audit.models import Event, EventNames, Outcome, Seal

FIRST = "0" * 64
SEAL_AT_ONCE = 1000

_followers: list[Callable[[Event], None]] = []


def follow(noted: Callable[[Event], None]) -> None:
    """Register a function that is called with every event, in its transaction: what is derived from events follows."""
    _followers.append(noted)


def record(
    *,
    actor: User | None,
    action: Action,
    subject: models.Model,
    thread: models.Model | None = None,
    outcome: Outcome = Outcome.SUCCESS,
    names: dict[str, str] | None = None,
    **details: Any,
) -> Event:
    """Write one event in the caller's transaction. `actor` None is the site itself.

    Names, and words in which people may be named, go in `names`, which can be erased; the event keeps their digest.
    """
    if not connection.in_atomic_block:
        raise RuntimeError("audit.record must run inside the transaction of the change it records")
    salt = secrets.token_hex(16) if names else ""
    event = Event.objects.create(
        at=timezone.now(),
        actor=actor,
        action=action,
        subject_type=subject._meta.label_lower,
        subject_id=str(subject.pk),
        thread=thread_of(thread or subject),
        outcome=outcome,
        details=details,
        names_digest=_names_digest(salt, names) if names else "",
    )
    if names:
        EventNames.objects.create(event=event, salt=salt, names=names)
    for noted in _followers:
        noted(event)
    return event


def thread_of(thing: models.Model) -> str:
    return f"{thing._meta.label_lower}:{thing.pk}"


def story_of(thing: models.Model) -> QuerySet[Event]:
    """All events told in the story of one thing, oldest first."""
    return Event.objects.filter(thread=thread_of(thing)).select_related("actor", "names").order_by("id")


def is_pending() -> bool:
    return Event.objects.filter(seal=None).exists()


def seal_pending() -> int:
    """Number and chain the events not yet sealed, at most SEAL_AT_ONCE; returns how many.

    Two at once cannot fork the chain: numbers are unique, and the later one leaves the work to the earlier.
    """
    try:
        with transaction.atomic():
            return _seal()
    except IntegrityError:
        return 0


def _seal() -> int:
    last = Seal.objects.select_for_update().order_by("-number").first()
    number, previous = (last.number, last.digest) if last else (0, FIRST)
    events = list(Event.objects.filter(seal=None).order_by("id")[:SEAL_AT_ONCE])
    for event in events:
        number += 1
        digest = event_digest(event, number=number, previous=previous)
        Seal.objects.create(number=number, event=event, previous=previous, digest=digest)
        previous = digest
    return len(events)


def event_digest(event: Event, *, number: int, previous: str) -> str:
    """SHA-256 over the event's canonical JSON (sorted keys, UTF-8) with its number and the digest before it."""
    body = {
        "number": number,
        "previous": previous,
        "event": event.pk,
        "at": event.at.isoformat(),
        "actor": event.actor_id,
        "action": event.action,
        "subject": [event.subject_type, event.subject_id],
        "thread": event.thread,
        "outcome": event.outcome,
        "details": event.details,
        "names_digest": event.names_digest,
    }
    canonical = json.dumps(body, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(canonical.encode()).hexdigest()


@dataclass(frozen=True)
class ChainCheck:
    """What reading the whole chain showed. `faults` are sentences; none means that the chain is whole."""

    sealed: int
    unsealed: int
    head: str
    faults: tuple[str, ...]


def check_chain(known_digest: str | None = None) -> ChainCheck:
    """Read every seal and event again.

    `known_digest`, noted on an earlier day, must still be in the chain: this shows a cut-off end.
    """
    faults, previous, expected, seen = [], FIRST, 0, known_digest in {None, FIRST}
    for seal in _seals():
        expected += 1
        faults += _faults_of(seal, expected, previous)
        previous, expected = seal.digest, seal.number
        seen = seen or seal.digest == known_digest
    if not seen:
        faults.append(f"The digest {known_digest} is not in the chain: events after or before it were taken away.")
    return ChainCheck(expected, Event.objects.filter(seal=None).count(), previous, tuple(faults))


def sealed_rightly(event: Event) -> bool | None:
    """Whether one event is what was sealed, and its seal follows the one before it; None while it is not sealed."""
    seal = Seal.objects.select_related("event", "event__names").filter(event=event).first()
    if seal is None:
        return None
    before = Seal.objects.filter(number=seal.number - 1).first()
    return not _faults_of(seal, seal.number, before.digest if before else FIRST)


def _seals() -> Iterator[Seal]:
    return Seal.objects.select_related("event", "event__names").order_by("number").iterator(chunk_size=1000)


def _faults_of(seal: Seal, expected: int, previous: str) -> list[str]:
    faults = []
    if seal.number != expected:
        faults.append(f"Seals {expected} to {seal.number - 1} are missing.")
    if seal.previous != previous:
        faults.append(f"Seal {seal.number} does not follow the one before it.")
    if seal.digest != event_digest(seal.event, number=seal.number, previous=seal.previous):
        faults.append(f"Event {seal.event_id} (seal {seal.number}) is not what was sealed.")
    names = getattr(seal.event, "names", None)
    if names and seal.event.names_digest != _names_digest(names.salt, names.names):
        faults.append(f"The names kept with event {seal.event_id} are not what was recorded.")
    return faults


def _names_digest(salt: str, names: dict[str, str]) -> str:
    return hashlib.sha256((salt + json.dumps(names, sort_keys=True, ensure_ascii=False)).encode()).hexdigest()
