"""Compare what lies in the stores with the register of files: cheap, every night, whatever the number of files.

A row without a copy, or with one of another size, is read next. Something without a row is told and left where it is.
"""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import groupby, islice
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from intake.accounts.models import User
from intake.audit.actions import Action
from intake.audit.services import record
from intake.errors import Refused
from intake.files import stores
from intake.files.models import StoredCopy, StoredFile, UnexpectedObject, Upload, UploadState

BATCH = 500
A_NUMBER = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")
# A copy stands in its store before its row does, and a copy on its way has a name of its own.
SETTLED_AFTER = timedelta(days=1)
MAY_BE_SET_ASIDE_AFTER = timedelta(days=30)


@dataclass
class Compared:
    """What the listing of one store showed, in numbers."""

    store: str
    listed: int = 0
    suspect: int = 0
    unexpected: int = 0
    broken_off: int = 0


def compare(store: str) -> Compared:
    """Go through one store and its rows folder by folder; nothing grows with their number but the count.

    Raises stores.StoreGone or another fault of the store.
    """
    stores.require(store)
    now, told, seen = timezone.now(), Compared(store), set()
    for top, expected in _expected(store):
        seen.add(top)
        _compare_one(store, top, expected, told, now)
    for top in stores.tops(store):
        if top not in seen:
            _compare_one(store, top, {}, told, now)
    UnexpectedObject.objects.filter(store=store, gone_at=None, last_seen_at__lt=now).update(gone_at=now)
    return told


def unexpected() -> list[UnexpectedObject]:
    """What lies in the stores without a row and has not been set aside."""
    return list(UnexpectedObject.objects.filter(gone_at=None, set_aside_at=None)[:BATCH])


def may_be_set_aside(found: UnexpectedObject) -> bool:
    return timezone.now() - found.first_seen_at >= MAY_BE_SET_ASIDE_AFTER


@transaction.atomic
def set_aside(unexpected_id: int, *, actor: User) -> UnexpectedObject:
    """Move something unexpected to the quarantine of its store, a month after it was first seen."""
    found = UnexpectedObject.objects.select_for_update().get(pk=unexpected_id, set_aside_at=None)
    if not may_be_set_aside(found):
        raise Refused("It was first seen less than a month ago. It may belong to something that is still going on.")
    if StoredFile.objects.filter(key=found.key).exists():
        raise Refused("This belongs to a file of the register by now, so it stays.")
    name = stores.set_aside(found.store, found.key, f"unexpected-{found.pk}")
    if not name:
        raise Refused("It is no longer there.")
    found.set_aside_at = timezone.now()
    found.save(update_fields=["set_aside_at"])
    record(
        actor=actor,
        action=Action.UNEXPECTED_SET_ASIDE,
        subject=found,
        store=found.store,
        names={"key": found.key},
        name=name,
        bytes=found.bytes,
    )
    return found


def _expected(store: str) -> Iterator[tuple[str, dict[str, tuple[int, int]]]]:
    """The rows of one folder after the other: each copy's key, its row's number, and its bytes. One query."""
    rows = (
        StoredCopy.objects.filter(store=store)
        .order_by("file__key")
        .values_list("file__key", "pk", "file__bytes")
        .iterator(chunk_size=2000)
    )
    for top, group in groupby(rows, key=lambda row: _top_of(row[0])):
        yield top, {key: (pk, size) for key, pk, size in group}


def _top_of(key: str) -> str:
    first, slash, _ = key.partition("/")
    return first + slash


def _compare_one(store: str, top: str, expected: dict[str, tuple[int, int]], told: Compared, now: datetime) -> None:
    suspect: list[int] = []
    listed = iter(stores.listing(store, top))
    while batch := list(islice(listed, BATCH)):
        strange = []
        for found in batch:
            told.listed += 1
            pk, size = expected.pop(found.key, (0, 0))
            if not pk:
                strange.append(found)
            elif found.bytes != size:
                suspect.append(pk)
        _tell_strange(store, strange, told, now)
    suspect += [pk for pk, _ in expected.values()]
    told.suspect += len(suspect)
    for start in range(0, len(suspect), BATCH):
        StoredCopy.objects.filter(pk__in=suspect[start : start + BATCH]).update(is_suspect=True)


def _tell_strange(store: str, strange: list[stores.Listed], told: Compared, now: datetime) -> None:
    settled = [found for found in strange if now - found.modified_at > SETTLED_AFTER]
    for found in settled:
        if found.is_arriving:
            stores.remove_broken_off(store, found.key)
            told.broken_off += 1
    odd = {found.key: found for found in settled if not found.is_arriving}
    if not odd:
        return
    # A row may have come since the rows of this folder were read.
    for key in {*StoredFile.objects.filter(key__in=list(odd)).values_list("key", flat=True), *_on_their_way(odd)}:
        del odd[key]
    told.unexpected += len(odd)
    rows = [_row(store, found, now) for found in odd.values()]
    UnexpectedObject.objects.bulk_create(
        rows,
        update_conflicts=True,
        unique_fields=["store", "key"],
        update_fields=["bytes", "modified_at", "last_seen_at", "gone_at", "set_aside_at"],
    )


def _on_their_way(keys: Iterable[str]) -> list[str]:
    """Those that carry the number of an upload that has not come to its end: what has come of it may lie in a store."""
    numbers = {key: UUID(found[0]) for key in keys if (found := A_NUMBER.search(key))}
    open_ones = Upload.objects.filter(
        pk__in=set(numbers.values()), state__in=[UploadState.RECEIVING, UploadState.RECEIVED]
    )
    waiting = set(open_ones.values_list("pk", flat=True))
    return [key for key, number in numbers.items() if number in waiting]


def _row(store: str, found: stores.Listed, now: datetime) -> UnexpectedObject:
    facts: dict[str, Any] = {"bytes": found.bytes or 0, "modified_at": found.modified_at}
    return UnexpectedObject(store=store, key=found.key[:1024], first_seen_at=now, last_seen_at=now, **facts)
