"""Pieces gathered by the object store itself, each a part of a multipart upload at the key where the file will stay.

No disk is shared and no piece is in memory for longer than it is being sent on. What is too short to be a part (S3
takes none under 5 MiB but the last) is kept as an object of its own, and stands at the head of the next piece.
"""

import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from uuid import uuid4

from django.conf import settings
from django.core.files.storage import storages
from django.db.models import F, Q
from django.utils import timezone

from intake.files import keys, objects, storage
from intake.files.models import Piece, Upload
from intake.files.storage import Busy

# A writer renews its lease as bytes come in; a connection that is silent for longer than this has been given up before.
LEASE = timedelta(seconds=90)
RENEW_SECONDS = 10


def _store() -> objects.Objects:
    return objects.of(storages["primary"])


class ObjectWriter:
    """Collects one part in memory at a time. Its numbers are its own: another writer's parts are never written over."""

    def __init__(self, upload: Upload, fence: str) -> None:
        self.fence = fence
        self._upload = upload
        self._key = keys.key_of(upload.pk, upload.name)
        self._remainder = upload.pieces.filter(etag="").last()
        self._part = bytearray(_store().read(_remainder_key(self._remainder)) if self._remainder else b"")
        self._part_bytes = max(settings.UPLOAD_PIECE_BYTES, objects.LEAST_PART_BYTES)
        self._fresh: list[Piece] = []
        self._gone: list[Piece] = []
        self._renewed_at = time.monotonic()

    def write(self, block: bytes) -> None:
        self._renew()
        self._part += block
        while len(self._part) >= self._part_bytes:
            self._send(self._part_bytes)

    def keep(self) -> list[Piece]:
        if len(self._part) >= objects.LEAST_PART_BYTES:
            self._send(len(self._part))
        elif self._part:
            self._set_aside()
        fresh, self._fresh = self._fresh, []
        return fresh

    def kept(self) -> None:
        """The remainders that stand in a part now; their rows went with the offset."""
        for piece in self._gone:
            _store().remove(_remainder_key(piece))
        self._gone = []

    def drop(self) -> None:
        """Parts that no row names are left out when the object is completed."""
        self._fresh, self._gone, self._part = [], [], bytearray()

    def _send(self, count: int) -> None:
        content, self._part = bytes(self._part[:count]), self._part[count:]
        number = self._number()
        etag = _store().put_part(self._upload.multipart_id, self._key, number, content)
        self._fresh.append(Piece(upload=self._upload, number=number, bytes=count, etag=etag))
        self._supersede()

    def _set_aside(self) -> None:
        piece = Piece(upload=self._upload, number=self._number(), bytes=len(self._part))
        _store().put(_remainder_key(piece), bytes(self._part))
        self._fresh.append(piece)
        self._supersede()
        self._remainder = piece

    def _supersede(self) -> None:
        if self._remainder:
            self._gone.append(self._remainder)
            self._remainder = None

    def _number(self) -> int:
        mine = Upload.objects.filter(pk=self._upload.pk, writer=self.fence)
        if not mine.update(next_number=F("next_number") + 1):
            raise Busy
        return mine.values_list("next_number", flat=True).get() - 1

    def _renew(self) -> None:
        if time.monotonic() - self._renewed_at < RENEW_SECONDS:
            return
        self._renewed_at = time.monotonic()
        mine = Upload.objects.filter(pk=self._upload.pk, writer=self.fence)
        if not mine.update(writer_until=timezone.now() + LEASE):
            raise Busy


class ObjectStore:
    """See Gathering."""

    @contextmanager
    def writing(self, upload: Upload) -> Iterator[ObjectWriter]:
        fence = uuid4().hex
        now = timezone.now()
        free = Upload.objects.filter(Q(writer="") | Q(writer_until__lt=now), pk=upload.pk)
        if not free.update(writer=fence, writer_until=now + LEASE):
            raise Busy
        try:
            upload.refresh_from_db()
            _begin(upload)
            yield ObjectWriter(upload, fence)
        finally:
            Upload.objects.filter(pk=upload.pk, writer=fence).update(writer="", writer_until=None)

    def first_bytes(self, upload: Upload, count: int) -> bytes:
        """Of what is a remainder still: whatever is longer is told by the piece that it came with."""
        remainder = upload.pieces.filter(etag="").first()
        return _store().read(_remainder_key(remainder))[:count] if remainder else b""

    def into_primary(self, upload: Upload, key: str) -> None:
        partials = list(upload.partials.order_by("joined_at"))
        if storage.staging_path(upload.pk).exists():  # an import has copied it to this computer
            storage.place("primary", key, storage.staging_path(upload.pk))
        elif partials:
            _join(upload, key, partials)
        else:
            _complete(upload, key)

    def discard(self, upload: Upload) -> None:
        """What was being gathered; a copy that is completed is not touched."""
        storage.clear_staging(upload.pk)
        for gone in [upload, *upload.partials.all()]:
            for piece in gone.pieces.filter(etag=""):
                _store().remove(_remainder_key(piece))
            if gone.multipart_id:
                _store().abandon(gone.multipart_id, keys.key_of(gone.pk, gone.name))
            if gone.is_partial:
                _store().remove(keys.key_of(gone.pk, gone.name))
            _delete_pieces(gone)


def _delete_pieces(upload: Upload) -> None:
    upload.pieces.all().delete()


def _begin(upload: Upload) -> None:
    if not upload.multipart_id:
        upload.multipart_id = _store().begin(keys.key_of(upload.pk, upload.name))
        upload.save(update_fields=["multipart_id"])


def _complete(upload: Upload, key: str) -> None:
    """A remainder becomes the last part: the last one may be short."""
    _begin(upload)
    parts = [(piece.number, piece.etag) for piece in upload.pieces.exclude(etag="")]
    remainder = upload.pieces.filter(etag="").last()
    if remainder and _store().size(key) is None:
        content = _store().read(_remainder_key(remainder))
        parts.append((remainder.number, _store().put_part(upload.multipart_id, key, remainder.number, content)))
    _store().complete(upload.multipart_id, key, parts)


def _join(upload: Upload, key: str, partials: list[Upload]) -> None:
    """Copied inside the store, part by part; a partial upload too short to be one travels through memory."""
    if _store().size(key) == upload.length:
        return
    for partial in partials:
        _complete(partial, keys.key_of(partial.pk, partial.name))
    joined = _Joined(key)
    for partial in partials:
        joined.add(keys.key_of(partial.pk, partial.name), partial.length)
    joined.complete()


class _Joined:
    """An object made of others, one after the other. What is too short to be a part waits for the next one's head."""

    def __init__(self, key: str) -> None:
        self._key = key
        self._gathering = _store().begin(key)
        self._parts: list[tuple[int, str]] = []
        self._waiting = b""

    def add(self, source: str, length: int) -> None:
        start = 0
        if self._waiting or length < objects.LEAST_PART_BYTES:
            start = min(length, max(objects.LEAST_PART_BYTES - len(self._waiting), 0))
            # What would be left is no part by itself either.
            start = length if length - start < objects.LEAST_PART_BYTES else start
            self._waiting += _store().read(source, 0, start)
            if len(self._waiting) >= objects.LEAST_PART_BYTES:
                self._send()
        if start < length:
            first = len(self._parts) + 1
            self._parts += _store().copy_parts(self._gathering, self._key, source, start, length, first=first)

    def complete(self) -> None:
        if self._waiting:
            self._send()
        _store().complete(self._gathering, self._key, self._parts)

    def _send(self) -> None:
        number = len(self._parts) + 1
        self._parts.append((number, _store().put_part(self._gathering, self._key, number, self._waiting)))
        self._waiting = b""


def _remainder_key(piece: Piece) -> str:
    return f"remainders/{piece.upload_id}-{piece.number}"
