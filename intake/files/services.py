"""Keep a file: place it in every store, read each copy back, compare, and only then say that it is stored."""

import re
import time
from pathlib import Path
from uuid import UUID

from django.db import transaction

from intake.files import fixity, storage
from intake.files.fixity import Reader, Reading, verified_stores
from intake.files.models import Found, StoredFile, Why


class Damaged(OSError):
    """A copy read back is not what was placed. The job is tried again; nothing was promised yet."""


def keep(
    source: Path, *, file_id: UUID, name: str, media_type: str, progress: storage.Progress = lambda count: None
) -> StoredFile:
    """Store a local file under a fixed id, twice and read back.

    Doing it again gives the same row. `progress` is told bytes read or written.
    """
    stored = StoredFile.objects.filter(pk=file_id).first()
    if stored:
        return stored
    key = f"{file_id.hex[:2]}/{file_id}{_plain_ending(name)}"
    sha256 = storage.sha256_of_path(source, progress)
    found = {store: _place_and_read_back(store, key, source, progress) for store in storage.STORES}
    if {reading.sha256 for reading in found.values()} != {sha256}:
        raise Damaged(f"the copies of {file_id} do not match the file they were made of: {found}")
    with transaction.atomic():
        stored, _ = StoredFile.objects.get_or_create(
            pk=file_id,
            defaults={
                "name": name,
                "media_type": media_type,
                "bytes": source.stat().st_size,
                "sha256": sha256,
                "key": key,
            },
        )
        for reading in found.values():
            fixity.note(stored, reading, Reader(Why.ARRIVAL))
    return stored


def keep_bytes(content: bytes, *, file_id: UUID, name: str, media_type: str) -> StoredFile:
    """Store something that was made in memory, such as a paper."""
    with storage.scratch_folder() as folder:
        path = storage.write(folder / "made", content)
        return keep(path, file_id=file_id, name=name, media_type=media_type)


def is_safe(file: StoredFile) -> bool:
    """Two stored copies have been read back and match: the recorder's card may be cleared."""
    return verified_stores(file) >= set(storage.STORES)


def _plain_ending(name: str) -> str:
    """The ending of a name where it is one that any store and program takes, such as ".wav"; else none."""
    ending = Path(name).suffix.lower()
    return ending if re.fullmatch(r"\.[a-z0-9]{1,8}", ending) else ""


def _place_and_read_back(store: str, key: str, source: Path, progress: storage.Progress) -> Reading:
    fixity.prepare(store)
    storage.place(store, key, source)
    begun = time.monotonic()
    digest = storage.sha256_of_copy(store, key, progress)
    return Reading(store, Found.MATCHES, digest, source.stat().st_size, time.monotonic() - begun)
