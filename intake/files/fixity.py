"""Read copies and note what was found: every reading is a row, and the copy remembers its latest."""

import hashlib
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from django.db import transaction
from django.db.models import F

from intake.accounts.models import User
from intake.figures import size
from intake.files import storage, stores
from intake.files.models import Audit, FixityCheck, Found, Incident, StoredCopy, StoredFile, Why

BAD = (Found.DIFFERS, Found.MISSING, Found.UNREADABLE)


class BeingRead(OSError):
    """Somebody or something else is at work on this file's copies just now; worth another try."""


@dataclass(frozen=True)
class Reading:
    """What one reading of one copy found. `told` says in the machine's words why it could not be read."""

    store: str
    found: Found
    sha256: str = ""
    bytes: int = 0
    seconds: float = 0.0
    told: str = ""

    @property
    def is_good(self) -> bool:
        return self.found == Found.MATCHES

    def in_words(self, file: StoredFile) -> str:
        """Such as "The replica copy differs: 41 of 44 kB ...": for the event, the e-mail and the desk."""
        copy = f"The {self.store} copy"
        if self.found == Found.MISSING:
            return f"{copy} is missing."
        if self.found == Found.UNREADABLE:
            return f"{copy} cannot be read ({self.told})."
        if self.found == Found.DIFFERS and self.bytes != file.bytes:
            return f"{copy} differs: it has {self.bytes} bytes instead of {file.bytes} ({size(file.bytes)})."
        if self.found == Found.DIFFERS:
            return f"{copy} differs: it is as long as it should be, but its SHA-256 is {self.sha256}."
        return f"{copy} matches."


@dataclass(frozen=True)
class Reader:
    """Why copies are read, for whom, and in which audit: told with every reading."""

    why: Why
    by: User | None = None
    audit: Audit | None = None


def read_copy(file: StoredFile, store: str, progress: storage.Progress = lambda count: None) -> Reading:
    """Read a copy to its end and hold it against its file.

    What cannot be read is only called bad where its store is there. Raises stores.StoreGone.
    """
    digest, count, begun = hashlib.sha256(), 0, time.monotonic()
    try:
        for block in stores.read_anew(store, file.key):
            digest.update(block)
            count += len(block)
            progress(len(block))
    except stores.FAULTS as error:
        stores.require(store)
        missing = isinstance(error, FileNotFoundError)
        found, told = (Found.MISSING, "") if missing else (Found.UNREADABLE, stores.in_words(error))
        return Reading(store, found, bytes=count, seconds=time.monotonic() - begun, told=told)
    found = Found.MATCHES if digest.hexdigest() == file.sha256 else Found.DIFFERS
    return Reading(store, found, digest.hexdigest(), count, time.monotonic() - begun)


@transaction.atomic
def note(file: StoredFile, reading: Reading, reader: Reader) -> FixityCheck:
    """Keep a reading for ever, and beside the copy as its latest; the audit's figures grow with it."""
    check = FixityCheck.objects.create(
        file=file,
        store=reading.store,
        why=reader.why,
        by=reader.by,
        audit=reader.audit,
        found=reading.found,
        found_sha256=reading.sha256,
        bytes_read=reading.bytes,
        seconds=reading.seconds,
        told=reading.told,
    )
    StoredCopy.objects.update_or_create(
        file=file, store=reading.store, defaults={"read_at": check.at, "found": reading.found, "is_suspect": False}
    )
    if reader.audit:
        Audit.objects.filter(pk=reader.audit.pk).update(
            copies_read=F("copies_read") + 1,
            bytes_read=F("bytes_read") + reading.bytes,
            seconds=F("seconds") + reading.seconds,
        )
    return check


def read_and_note(
    file: StoredFile, store: str, reader: Reader, progress: storage.Progress = lambda count: None
) -> tuple[Reading, FixityCheck]:
    """Read a copy and keep the reading. A copy that seems bad is read twice before anybody says so.

    Both readings are kept: one that was bad once tells of a failing disk or memory.
    """
    reading = read_copy(file, store, progress)
    check = note(file, reading, reader)
    if not reading.is_good:
        reading = read_copy(file, store)
        check = note(file, reading, reader)
    return reading, check


def prepare(store: str) -> None:
    """Before a copy is placed: a store is marked as itself at its first copy, and has to say so ever after.

    Else a recording would lie under the mount point of a disk that is away. Raises stores.StoreGone.
    """
    if StoredCopy.objects.filter(store=store).exists():
        stores.require(store)
    else:
        stores.mark(store)


def verified_stores(file: StoredFile) -> set[str]:
    """The stores whose latest reading of this file matched its digest. Uses prefetched copies where there are any."""
    return {copy.store for copy in file.stored_copies.all() if copy.found == Found.MATCHES}


def ensure_copies() -> int:
    """Give every stored file a row for each store, so that none is left out of the audit; returns how many were new."""
    new = 0
    for store in storage.STORES:
        without = StoredFile.objects.exclude(stored_copies__store=store)
        rows = [StoredCopy(file=file, store=store) for file in without.only("pk").iterator(chunk_size=2000)]
        new += len(StoredCopy.objects.bulk_create(rows, batch_size=500, ignore_conflicts=True))
    return new


def open_incidents(file: StoredFile) -> list[Incident]:
    return list(Incident.objects.filter(file=file, closed_at=None))


@contextmanager
def alone_with(file: StoredFile) -> Iterator[None]:
    """Nobody else reads or mends the copies of this file meanwhile. Raises BeingRead."""
    try:
        with storage.only_one(f"copies-{file.pk.hex[:2]}"):
            yield
    except storage.Busy as error:
        raise BeingRead(f"the copies of {file.pk} are being read already") from error
