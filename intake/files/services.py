"""Keep a file: place it in every store, read each copy back, compare, and only then say that it is stored."""

from pathlib import Path
from uuid import UUID

from django.db import transaction

from intake.files import storage
from intake.files.keys import key_of
from intake.files.models import FixityCheck, StoredFile


class Damaged(OSError):
    """A copy read back is not what was placed. The job is tried again; nothing was promised yet."""


def keep(source: Path, *, file_id: UUID, name: str, media_type: str) -> StoredFile:
    """Store a local file under a fixed id, twice and read back. Doing it again gives the same row."""
    stored = StoredFile.objects.filter(pk=file_id).first()
    if stored:
        return stored
    key = key_of(file_id, name)
    storage.place("primary", key, source)
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
    sha256 = storage.sha256_of_copy("primary", key, progress)
    if expected_sha256 and sha256 != expected_sha256:
        storage.remove("primary", key)
        return None
    for store in storage.OTHERS:
        storage.place_from(store, key, "primary")
        if storage.sha256_of_copy(store, key, progress) != sha256:
            raise Damaged(f"the {store} store did not keep {file_id} as it was given")
    return _note(file_id, name, media_type, length, sha256)


@transaction.atomic
def _note(file_id: UUID, name: str, media_type: str, length: int, sha256: str) -> StoredFile:
    facts = {"name": name, "media_type": media_type, "bytes": length, "sha256": sha256, "key": key_of(file_id, name)}
    stored, new = StoredFile.objects.get_or_create(pk=file_id, defaults=facts)
    if new:
        for store in storage.STORES:
            FixityCheck.objects.create(file=stored, store=store, found_sha256=sha256, matches=True)
    return stored


def keep_bytes(content: bytes, *, file_id: UUID, name: str, media_type: str) -> StoredFile:
    """Store something that was made in memory, such as a paper."""
    with storage.scratch_folder() as folder:
        path = storage.write(folder / "made", content)
        return keep(path, file_id=file_id, name=name, media_type=media_type)


def verified_stores(file: StoredFile) -> set[str]:
    """The stores whose latest reading of this file matched its digest."""
    latest = {check.store: check.matches for check in file.checks.all()}
    return {store for store, matches in latest.items() if matches}


def is_safe(file: StoredFile) -> bool:
    """Two stored copies have been read back and match: the recorder's card may be cleared."""
    return verified_stores(file) >= set(storage.STORES)


def is_proven(file: StoredFile) -> bool:
    """Whether it is known to be what the sender has: compared by its digest, or every piece of it by a checksum.

    What this site made itself has no sender.
    """
    upload = getattr(file, "upload", None)
    return upload is None or upload.pieces_verified or upload.declared_sha256 == file.sha256
