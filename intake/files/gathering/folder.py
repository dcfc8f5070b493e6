"""Pieces gathered in one growing file on this computer's disk, which web and worker both see."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import BinaryIO

from intake.files import storage
from intake.files.models import Piece, Upload


class FolderWriter:
    """Writes behind the upload's offset. The lock that the disk holds for it keeps every other process out."""

    fence = ""

    def __init__(self, file: BinaryIO, offset: int) -> None:
        self._file = file
        self._kept = offset
        file.truncate(offset)  # bytes of an earlier piece that was never counted
        file.seek(offset)

    def write(self, block: bytes) -> None:
        storage.write_block(self._file, block)
        storage.begin_sync(self._file, self._file.tell() - len(block), len(block))

    def keep(self) -> list[Piece]:
        storage.sync(self._file)
        self._kept = self._file.tell()
        return []

    def kept(self) -> None:
        """Nothing is superfluous in one file."""

    def drop(self) -> None:
        self._file.truncate(self._kept)
        self._file.seek(self._kept)


class Folder:
    """See Gathering."""

    @contextmanager
    def writing(self, upload: Upload) -> Iterator[FolderWriter]:
        with storage.staging_file(upload.pk) as file:
            upload.refresh_from_db()  # another request may have written until the lock was ours
            yield FolderWriter(file, upload.offset)

    def first_bytes(self, upload: Upload, count: int) -> bytes:
        return storage.read_head(storage.staging_path(upload.pk), count)

    def into_primary(self, upload: Upload, key: str) -> None:
        partials = list(upload.partials.order_by("joined_at"))
        if partials:
            storage.join(upload.pk, [(partial.pk, partial.length) for partial in partials])
        storage.place("primary", key, storage.staging_path(upload.pk))

    def discard(self, upload: Upload) -> None:
        for gone in [upload, *upload.partials.all()]:
            storage.clear_staging(gone.pk)
