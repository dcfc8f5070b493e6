"""Entries written straight into the table: lists are about rows, however they came there."""

import random
from datetime import timedelta

from django.utils import timezone

from intake.accounts.models import User
from intake.interviews.models import Collection, Interview, State
from intake.people.models import Person
from intake.people.services import person_of
from intake.queue.models import BY_STAGE, STAGE, QueueEntry, Standing
from tests.factories import a_collection, a_user, an_archivist

NAMES = ("Ada Quill", "Bror Lund", "Marit Oskarsen", "Zoë Aas")


def some_entries(number: int, *, seed: int) -> list[QueueEntry]:
    """Entries with few different values each, so that much is alike; the same for the same seed."""
    chance, now = random.Random(seed), timezone.now()
    owner, staff = a_user(), [an_archivist("Ines Halloway"), an_archivist("Petra Lindqvist"), None]
    places = [a_collection("Both Banks"), a_collection("The market")]
    giver = person_of(owner)
    made = [_entry(_interview(owner, giver, chance.choice(places)), chance, now, staff) for _ in range(number)]
    return QueueEntry.objects.bulk_create(made)


def _interview(owner: User, giver: Person, collection: Collection) -> Interview:
    return Interview.objects.create(
        collection=collection, owner=owner, given_by=giver, recorded_on="2026-01-01", place="", language="en"
    )


def _entry(interview: Interview, chance: random.Random, now, staff: list[User | None]) -> QueueEntry:
    state, since = chance.choice(State.values), now - timedelta(days=chance.randrange(0, 60, 20))
    stage = BY_STAGE.index(State(state)) if state in BY_STAGE else len(BY_STAGE)
    name = chance.choice(NAMES)
    return QueueEntry(
        interview=interview,
        collection=interview.collection,
        reviewer=chance.choice(staff),
        state=state,
        submitted_at=since,
        work_order=stage * STAGE + int(since.timestamp()),
        waiting_since=since,
        recorded_on=now.date() - timedelta(days=chance.randrange(3)),
        title=f"Interview with {name}",
        name=name.casefold(),
        given_by="Tobias Wrenfield",
        seconds=chance.choice([None, 61.5]),
        standing=chance.choice(Standing.values),
        is_signed=chance.random() < 0.7,
        is_contested=chance.random() < 0.3,
        closed_until=chance.choice([None, now.date(), now.date() + timedelta(days=1)]),
        is_on_site=chance.random() < 0.3,
        is_name_withheld=chance.random() < 0.3,
        has_closed_passages=chance.random() < 0.3,
        words=name.casefold(),
    )
