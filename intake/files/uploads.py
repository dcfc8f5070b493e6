"""The rules of a resumable upload.

Begin, append a piece, declare the digest, store, stop. HTTP knows nothing here and is not known.
"""

import errno
import hashlib
import re
import unicodedata
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import PurePosixPath
from typing import BinaryIO
from uuid import UUID

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from intake.accounts.models import User
from intake.errors import Refused
from intake.figures import size
from intake.files import media, room, services, storage
from intake.files.models import Expects, StoredFile, Upload, UploadState
from intake.jobs.models import Kind
from intake.jobs.services import enqueue

CHECKSUMS = ("sha256", "sha1")
# SECURITY: it comes from outside and goes into a header when the file is served (RFC 6838, section 4.2).
# SECURITY: nothing handed in is ever served as a page or a program. The browser's word is believed for sound alone;
# what everything else is, files.media tells from its bytes.
MEDIA_TYPE = re.compile(r"(audio|video)/[a-z0-9][\w!#$&^.+-]{0,47}", re.ASCII | re.IGNORECASE)
# A page of A4 in colour at 600 dots an inch is 104 MB before it is compressed.
SCAN_MAX_BYTES = 120_000_000
DISK_IS_FULL = "The library's disk is full. Keep your recording; the library has to make room before it can come in."
# Control, format and line-parting characters (Unicode categories): some turn the order of letters around.
UNPRINTED = {"Cc", "Cf", "Cs", "Zl", "Zp"}
# Format characters all the same that words and pictures are written with: Persian, Hindi, emoji.
JOINERS = {"\u200c", "\u200d"}
NO_ROOM = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}


class TooLarge(Refused):
    """More than the site takes in one file."""


class NoRoom(Refused):
    """The disk could not hold the file and its copies."""


class WrongOffset(Exception):
    """The piece does not start where the last one ended."""


class WrongChecksum(Exception):
    """The piece is not what its checksum says; none of it was kept."""


@dataclass(frozen=True)
class Checksum:
    """What a client says a piece's digest is. Raises ValueError for an algorithm that is not in CHECKSUMS."""

    algorithm: str
    digest: bytes

    def __post_init__(self) -> None:
        if self.algorithm not in CHECKSUMS:
            raise ValueError(self.algorithm)


def begin(
    *,
    owner: User,
    name: str,
    media_type: str,
    length: int,
    metadata: str,
    modified_at: datetime | None = None,
    expects: Expects = Expects.SOUND,
) -> Upload:
    """Make room for a file. The name is kept as a name alone: any path in it is left behind."""
    plain = plain_name(name)
    _refuse_what_cannot_fit(plain, length, expects)
    is_believed = expects == Expects.SOUND and MEDIA_TYPE.fullmatch(media_type)
    return Upload.objects.create(
        owner=owner,
        name=plain,
        expects=expects,
        media_type=media_type if is_believed else "application/octet-stream",
        length=length,
        metadata=metadata,
        modified_at=modified_at,
    )


def plain_name(name: str) -> str:
    """The last part of whatever a browser sent as a file name, without control characters, at most 255 characters.

    Composed (Unicode NFC), so that one name is one name whichever computer it comes from.
    """
    last = PurePosixPath(name.replace("\\", "/")).name
    printed = "".join(sign for sign in last if sign in JOINERS or unicodedata.category(sign) not in UNPRINTED)
    plain = unicodedata.normalize("NFC", unicodedata.normalize("NFC", printed)[-255:])
    seen = "".join(sign for sign in plain if sign not in JOINERS and sign != "." and not sign.isspace())
    return plain if seen else "unnamed"


def append(upload_id: UUID, *, offset: int, body: BinaryIO, checksum: Checksum | None) -> Upload:
    """Add a piece at `offset` and return the upload with its new offset.

    Raises WrongOffset, WrongChecksum, storage.Busy, media.WrongKind or Refused. Without a checksum as much as arrived
    is kept, should the connection break; with one it is all or nothing.
    """
    _receiving(upload_id)  # asked before the staging file is opened, since opening makes it
    with storage.staging_file(upload_id) as file:
        upload = _receiving(upload_id)
        if offset != upload.offset:
            raise WrongOffset
        received = _write_piece(file, upload, body, checksum)
        return _advance(upload_id, received, _media_type(file, upload, received))


def declare_digest(upload_id: UUID, sha256: str) -> Upload:
    """Note the digest that the volunteer's own computer worked out. Said once, it stands."""
    with transaction.atomic():
        upload = Upload.objects.select_for_update().get(pk=upload_id)
        if not re.fullmatch("[0-9a-f]{64}", sha256):
            raise Refused("A SHA-256 digest is 64 hexadecimal digits.")
        if upload.declared_sha256 and upload.declared_sha256 != sha256:
            raise Refused(
                f"“{upload.name}” was declared with another digest before. The file on this computer has changed since."
            )
        upload.declared_sha256 = sha256
        upload.save(update_fields=["declared_sha256"])
        _store_when_complete(upload)
    return upload


def store(upload_id: UUID, progress: Callable[[float], None]) -> StoredFile | None:
    """Compare a received file with its declared digest and keep it; None if it differs or was given up. Repeatable."""
    upload = Upload.objects.get(pk=upload_id)
    if upload.state != UploadState.RECEIVED:
        return upload.file
    path = storage.staging_path(upload_id)
    share = _share_of(progress, total=upload.length * 4)
    if storage.sha256_of_path(path, share) != upload.declared_sha256:
        return None
    return services.keep(path, file_id=upload.pk, name=upload.name, media_type=upload.media_type, progress=share)


def mark_damaged(upload: Upload) -> bool:
    """Say that what was received differs from what was declared; False if that is no longer the question."""
    waiting = Upload.objects.filter(pk=upload.pk, state=UploadState.RECEIVED)
    return bool(waiting.update(state=UploadState.DAMAGED))


def close(upload: Upload, file: StoredFile) -> None:
    """Point the upload to its stored file; the staged bytes go once that is certain."""
    Upload.objects.filter(pk=upload.pk).update(state=UploadState.STORED, file=file)
    transaction.on_commit(lambda: storage.clear_staging(upload.pk))


def stop(upload: Upload) -> None:
    """Give an upload up before it is stored; its bytes go."""
    if not Upload.objects.filter(pk=upload.pk).exclude(state=UploadState.STORED).update(state=UploadState.STOPPED):
        raise Refused(f"“{upload.name}” has already been stored and stays with the library.")
    transaction.on_commit(lambda: storage.clear_staging(upload.pk))


def take_in(upload_id: UUID, *, owner: User, name: str, media_type: str, length: int, sha256: str) -> Upload:
    """A file of this computer that has been copied to the staging folder; it is compared and stored like any other."""
    upload = Upload.objects.create(
        id=upload_id,
        owner=owner,
        name=plain_name(name),
        media_type=media_type if MEDIA_TYPE.fullmatch(media_type) else "application/octet-stream",
        length=length,
        offset=length,
        declared_sha256=sha256,
        state=UploadState.RECEIVED,
        last_piece_at=timezone.now(),
    )
    enqueue(Kind.STORE_UPLOAD, upload.pk)
    return upload


def change_owner(upload_ids: Sequence[UUID], *, to: User) -> int:
    """Let somebody else finish what has not come in whole; returns how many uploads that are."""
    return Upload.objects.filter(pk__in=upload_ids, state=UploadState.RECEIVING).update(owner=to)


def _refuse_what_cannot_fit(name: str, length: int, expects: Expects) -> None:
    if length == 0 and expects != Expects.SOUND:
        raise Refused(f"“{name}” is empty. Choose another file.")
    if length == 0:
        raise Refused(f"“{name}” is empty: it holds no sound. Look on the card for the recording itself.")
    if expects == Expects.SCAN and length > SCAN_MAX_BYTES:
        raise TooLarge(f"“{name}” is larger than a scan of a page needs to be ({SCAN_MAX_BYTES / 1e6:.0f} MB at most).")
    if length > settings.UPLOAD_MAX_BYTES:
        raise TooLarge(
            f"“{name}” has {size(length)}. That is larger than this site takes in one file "
            f"({size(settings.UPLOAD_MAX_BYTES)}). Bring the card to the library."
        )
    left = room.room_bytes()
    if length > left:
        raise NoRoom(
            f"“{name}” has {size(length)}, and the library's disk has room for {size(left)}: it is full. "
            "Nothing is lost: keep your recording. The library has to make room before it can come in."
        )


def _receiving(upload_id: UUID) -> Upload:
    upload = Upload.objects.get(pk=upload_id)
    if upload.state != UploadState.RECEIVING:
        raise Refused(f"“{upload.name}” is no longer being received: it is {upload.get_state_display()}.")
    return upload


def _write_piece(file: BinaryIO, upload: Upload, body: BinaryIO, checksum: Checksum | None) -> int:
    """Write the body after the verified bytes; returns how many bytes are to be counted."""
    digest = hashlib.new(checksum.algorithm) if checksum else None
    file.truncate(upload.offset)  # bytes of an earlier piece that was never verified
    file.seek(upload.offset)
    received = 0
    while block := _next_block(body):
        if upload.offset + received + len(block) > upload.length:
            raise Refused(f"“{upload.name}” is longer than the {upload.length} bytes announced for it.")
        _write_block(file, block)
        received += len(block)
        if digest:
            digest.update(block)
    # A connection that broke off leaves a piece too short for its checksum.
    if checksum and digest and digest.digest() != checksum.digest:
        file.truncate(upload.offset)
        raise WrongChecksum
    storage.sync(file)
    return received


def _media_type(file: BinaryIO, upload: Upload, received: int) -> str:
    """What the file is, told by the piece that completes its first bytes. Raises media.WrongKind."""
    head = min(media.HEAD_BYTES, upload.length)
    if upload.expects == Expects.SOUND or not upload.offset < head <= upload.offset + received:
        return upload.media_type
    file.seek(0)
    return media.recognise(upload.expects, file.read(head), upload.name)


def _next_block(body: BinaryIO) -> bytes:
    """What comes next; nothing once the connection has gone away."""
    try:
        return body.read(storage.BLOCK)
    except OSError:
        return b""


def _write_block(file: BinaryIO, block: bytes) -> None:
    try:
        storage.write_block(file, block)
    except OSError as error:
        if error.errno in NO_ROOM:
            raise NoRoom(DISK_IS_FULL) from error
        raise


def _advance(upload_id: UUID, received: int, media_type: str) -> Upload:
    """The row is read again under its lock: the digest may have been declared while the piece was coming in."""
    with transaction.atomic():
        upload = Upload.objects.select_for_update().get(pk=upload_id)
        upload.offset += received
        upload.media_type = media_type
        upload.last_piece_at = timezone.now()
        upload.save(update_fields=["offset", "media_type", "last_piece_at"])
        _store_when_complete(upload)
    return upload


def _store_when_complete(upload: Upload) -> None:
    if upload.state == UploadState.RECEIVING and upload.offset == upload.length and upload.declared_sha256:
        upload.state = UploadState.RECEIVED
        upload.save(update_fields=["state"])
        enqueue(Kind.STORE_UPLOAD, upload.pk)


def _share_of(progress: Callable[[float], None], *, total: int) -> storage.Progress:
    done = [0]

    def add(count: int) -> None:
        done[0] += count
        progress(min(done[0] / total, 1.0))

    return add
