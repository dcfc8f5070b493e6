"""Keep a file: place it in every store, read each copy back, compare, and only then say that it is stored."""

import time
from pathlib import Path
from typing import Any
from uuid import UUID

from django.db import transaction

from intake.files import fixity, storage
from intake.files.fixity import Reader, Reading, verified_stores
from intake.files.keys import key_of
from intake.files.models import Found, StoredFile, Why


class Damaged(OSError):
    """A copy read back is not what was placed. The job is tried again; nothing was promised yet."""


def keep(source: Path, *, file_id: UUID, name: str, media_type: str) -> StoredFile:
    """Store a local file under a fixed id, twice and read back. Doing it again gives the same row."""
    stored = StoredFile.objects.filter(pk=file_id).first()
    if stored:
        return stored
    fixity.prepare("primary")
    storage.place("primary", key_of(file_id, name), source)
    stored = keep_placed(
        file_id=file_id,
        name=name,
        media_type=media_type,
        length=source.stat().st_size,
        expected_sha256=storage.sha256_of_path(source),
    )
    if stored is None:
        raise Damaged(f"the primary store did not keep {file_id} as it was given")
    return stored


def keep_placed(
    *,
    file_id: UUID,
    name: str,
    media_type: str,
    length: int,
    expected_sha256: str,
    progress: storage.Progress = lambda count: None,
) -> StoredFile | None:
    """Store what stands in the primary store already: read it, copy it to the others, read each copy back.

    None if it is not what was expected; nothing of it is kept then. Where nothing is expected, the first reading
    stands. `progress` is told bytes read; each copy's are told once.
    """
    key = key_of(file_id, name)
    first = _read_back("primary", key, length, progress)
    if expected_sha256 and first.sha256 != expected_sha256:
        storage.remove("primary", key)
        return None
    readings = [first]
    for store in storage.OTHERS:
        fixity.prepare(store)
        storage.place_from(store, key, "primary")
        readings.append(_read_back(store, key, length, progress))
    if {reading.sha256 for reading in readings} != {first.sha256}:
        raise Damaged(f"the copies of {file_id} do not match each other: {readings}")
    return _note({"name": name, "media_type": media_type, "bytes": length, "key": key}, file_id, readings)


@transaction.atomic
def _note(described: dict[str, Any], file_id: UUID, readings: list[Reading]) -> StoredFile:
    facts = {**described, "sha256": readings[0].sha256}
    stored, new = StoredFile.objects.get_or_create(pk=file_id, defaults=facts)
    for reading in readings if new else []:
        fixity.note(stored, reading, Reader(Why.ARRIVAL))
    return stored


def _read_back(store: str, key: str, length: int, progress: storage.Progress) -> Reading:
    begun = time.monotonic()
    digest = storage.sha256_of_copy(store, key, progress)
    return Reading(store, Found.MATCHES, digest, length, time.monotonic() - begun)


def keep_bytes(content: bytes, *, file_id: UUID, name: str, media_type: str) -> StoredFile:
    """Store something that was made in memory, such as a paper."""
    with storage.scratch_folder() as folder:
        path = storage.write(folder / "made", content)
        return keep(path, file_id=file_id, name=name, media_type=media_type)


def is_safe(file: StoredFile) -> bool:
    """Two stored copies have been read back and match: the recorder's card may be cleared."""
    return verified_stores(file) >= set(storage.STORES)


def is_proven(file: StoredFile) -> bool:
    """Whether it is known to be what the sender has: compared by its digest, or every piece of it by a checksum.

    What this site made itself has no sender.
    """
    upload = getattr(file, "upload", None)
    return upload is None or upload.pieces_verified or upload.declared_sha256 == file.sha256
