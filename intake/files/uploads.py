"""The rules of a resumable upload: begin, append pieces, join, declare the digest, stop, expire.

HTTP knows nothing here and is not known. What happens once all of it is here stands in storing.py.
"""

import errno
import hashlib
import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import PurePosixPath
from typing import Any, BinaryIO
from uuid import UUID

from django.conf import settings
from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from intake.accounts.models import User
from intake.errors import Refused
from intake.figures import size
from intake.files import gathering, media, room, storage
from intake.files.models import Expects, Piece, Upload, UploadState
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
SHA256 = re.compile("[0-9a-f]{64}")
EXPIRED = "“{name}” was not gone on with in time, so what had arrived of it is no longer kept. Hand it in again."
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


@dataclass(frozen=True)
class Said:
    """What a client says when it begins: the file's SHA-256 in hex, or that it follows; or that it is partial."""

    sha256: str = ""
    digest_follows: bool = False
    is_partial: bool = False

    def __post_init__(self) -> None:
        if self.sha256 and not SHA256.fullmatch(self.sha256):
            raise Refused("A SHA-256 digest is 64 hexadecimal digits.")


def begin(
    *,
    owner: User,
    name: str,
    media_type: str,
    length: int,
    metadata: str,
    modified_at: datetime | None = None,
    expects: Expects = Expects.SOUND,
    said: Said = Said(),
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
        awaits_digest=said.digest_follows,
        declared_sha256=said.sha256,
        is_partial=said.is_partial,
        expires_at=_expiry(),
    )


def join(partials: Sequence[Upload], **described: Any) -> Upload:
    """One upload of several that are complete, in this order. Their bytes are brought together when it is stored.

    `described` are begin's own words. Raises Refused.
    """
    for partial in partials:
        if not partial.is_partial or partial.joined_into_id or partial.state != UploadState.RECEIVING:
            raise Refused(f"“{partial.name}” is no part of an upload that waits to be joined.")
        if partial.offset < partial.length:
            raise Refused(f"A part has {size(partial.offset)} of {size(partial.length)} only; send the rest first.")
    upload = begin(**described, length=sum(partial.length for partial in partials))
    for place, partial in enumerate(partials, start=1):
        taken = Upload.objects.filter(pk=partial.pk, joined_into=None).update(joined_into=upload, joined_at=place)
        if not taken:
            raise Refused(f"“{partial.name}” was joined to another upload at the same moment.")
    upload.offset = upload.length
    upload.pieces_verified = all(partial.pieces_verified for partial in partials)
    upload.last_piece_at = timezone.now()
    upload.save(update_fields=["offset", "pieces_verified", "last_piece_at"])
    return upload


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
    """Add bytes at `offset` and return the upload with its new offset.

    Raises WrongOffset, WrongChecksum, storage.Busy, media.WrongKind or Refused. With a checksum it is all or nothing;
    without one the offset moves on with every piece, and as much as arrived is kept should the connection break.
    """
    upload = _receiving(Upload.objects.get(pk=upload_id))
    with gathering.place().writing(upload) as writer:
        _receiving(upload)
        if offset != upload.offset:
            raise WrongOffset
        return _take_all(upload, writer, body, checksum) if checksum else _take_pieces(upload, writer, body)


def finish_at_once(upload: Upload) -> None:
    """An upload that began complete, as a joined one does."""
    _store_when_complete(upload)


def declare_digest(upload_id: UUID, sha256: str) -> Upload:
    """Note the digest that the volunteer's own computer worked out. Said once, it stands."""
    if not SHA256.fullmatch(sha256):
        raise Refused("A SHA-256 digest is 64 hexadecimal digits.")
    with transaction.atomic():
        upload = Upload.objects.select_for_update().get(pk=upload_id)
        if upload.is_partial:
            raise Refused("A digest is of a whole file, and this is a part of one.")
        if upload.declared_sha256 and upload.declared_sha256 != sha256:
            raise Refused(
                f"“{upload.name}” was declared with another digest before. The file on this computer has changed since."
            )
        if upload.file and upload.file.sha256 != sha256:
            raise Refused(
                f"“{upload.name}” on this computer is not what the library has stored under that name. Keep the card "
                "as it is, take the part out and hand it in again."
            )
        upload.declared_sha256 = sha256
        upload.save(update_fields=["declared_sha256"])
        _store_when_complete(upload)
    return upload


def stop(upload: Upload, *, state: UploadState = UploadState.STOPPED) -> None:
    """Give an upload up before it is stored; its bytes go."""
    if not Upload.objects.filter(pk=upload.pk).exclude(state=UploadState.STORED).update(state=state):
        raise Refused(f"“{upload.name}” has already been stored and stays with the library.")
    transaction.on_commit(lambda: gathering.place().discard(upload))


def expired(now: datetime) -> QuerySet[Upload]:
    """What nobody has gone on with in time. What is complete and only waits for its digest expires like the rest."""
    waiting = Upload.objects.filter(state=UploadState.RECEIVING, joined_into=None)
    return waiting.filter(expires_at__lte=now).order_by("expires_at")


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


def _receiving(upload: Upload) -> Upload:
    if upload.state == UploadState.RECEIVING and upload.expires_at <= timezone.now():
        raise Refused(EXPIRED.format(name=upload.name))
    if upload.state != UploadState.RECEIVING or upload.joined_into_id:
        raise Refused(f"“{upload.name}” is no longer being received: it is {upload.get_state_display()}.")
    return upload


def _take_all(upload: Upload, writer: gathering.Writer, body: BinaryIO, checksum: Checksum) -> Upload:
    """One piece that is what its checksum says, or nothing: a connection that broke off leaves a piece too short."""
    digest = hashlib.new(checksum.algorithm)
    head, received = _take(upload, writer, body, upload.length - upload.offset, digest)
    if digest.digest() != checksum.digest:
        writer.drop()
        raise WrongChecksum
    return _keep(upload, writer, received, head, verified=True)


def _take_pieces(upload: Upload, writer: gathering.Writer, body: BinaryIO) -> Upload:
    """Cut into pieces: a server that is killed in the middle of an endless body loses the last one at most."""
    while True:
        head, received = _take(upload, writer, body, settings.UPLOAD_PIECE_BYTES)
        if received:
            upload = _keep(upload, writer, received, head, verified=False)
        if received < settings.UPLOAD_PIECE_BYTES or upload.state != UploadState.RECEIVING:
            return upload


def _take(upload: Upload, writer: gathering.Writer, body: BinaryIO, most: int, digest: Any = None) -> tuple[bytes, int]:
    """Write what comes, `most` bytes of it; its first bytes, and how many came."""
    head, received = b"", 0
    while received < most and (block := _next_block(body, most - received)):
        if upload.offset + received + len(block) > upload.length:
            writer.drop()
            raise Refused(f"“{upload.name}” is longer than the {upload.length} bytes announced for it.")
        _write_block(writer, block)
        received += len(block)
        head += block[: media.HEAD_BYTES - len(head)]
        if digest:
            digest.update(block)
    if received == most == upload.length - upload.offset and _next_block(body, 1):
        writer.drop()
        raise Refused(f"“{upload.name}” is longer than the {upload.length} bytes announced for it.")
    return head, received


def _keep(upload: Upload, writer: gathering.Writer, received: int, head: bytes, *, verified: bool) -> Upload:
    media_type = _media_type(upload, received, head)
    upload = _advance(upload.pk, received, media_type, pieces=writer.keep(), fence=writer.fence, verified=verified)
    writer.kept()
    return upload


def _media_type(upload: Upload, received: int, head: bytes) -> str:
    """What the file is, told by the piece that completes its first bytes. Raises media.WrongKind."""
    wanted = min(media.HEAD_BYTES, upload.length)
    if upload.expects == Expects.SOUND or not upload.offset < wanted <= upload.offset + received:
        return upload.media_type
    before = gathering.place().first_bytes(upload, upload.offset) if upload.offset else b""
    return media.recognise(upload.expects, (before + head)[:wanted], upload.name)


def _next_block(body: BinaryIO, most: int) -> bytes:
    """What comes next; nothing once the connection has gone away or has been silent for too long."""
    try:
        return body.read(min(storage.BLOCK, most))
    except OSError:
        return b""


def _write_block(writer: gathering.Writer, block: bytes) -> None:
    try:
        writer.write(block)
    except OSError as error:
        if error.errno in NO_ROOM:
            raise NoRoom(DISK_IS_FULL) from error
        raise


def _advance(
    upload_id: UUID, received: int, media_type: str, *, pieces: list[Piece], fence: str, verified: bool
) -> Upload:
    """The row is read again under its lock: the digest may have been declared while the piece was coming in.

    Whoever lost the right to write meanwhile, as after a computer that stood still for minutes, changes nothing.
    """
    with transaction.atomic():
        upload = Upload.objects.select_for_update().get(pk=upload_id)
        if upload.writer != fence:
            raise storage.Busy
        upload.offset += received
        upload.media_type = media_type
        upload.pieces_verified &= verified
        upload.last_piece_at = timezone.now()
        upload.expires_at, upload.warned_at = _expiry(), None
        upload.save(
            update_fields=["offset", "media_type", "pieces_verified", "last_piece_at", "expires_at", "warned_at"]
        )
        if pieces:
            _delete_remainder(upload)
            Piece.objects.bulk_create(pieces)
        _store_when_complete(upload)
    return upload


def _delete_remainder(upload: Upload) -> None:
    """It stands at the head of the new pieces."""
    upload.pieces.filter(etag="").delete()


def _expiry() -> datetime:
    return timezone.now() + timedelta(days=settings.UPLOAD_EXPIRES_DAYS)


def _store_when_complete(upload: Upload) -> None:
    """What a client has not promised a digest of is stored as it came; pieces_verified tells what is known of it."""
    is_whole = upload.offset == upload.length and not upload.is_partial
    if upload.state == UploadState.RECEIVING and is_whole and (upload.declared_sha256 or not upload.awaits_digest):
        upload.state = UploadState.RECEIVED
        upload.save(update_fields=["state"])
        enqueue(Kind.STORE_UPLOAD, upload.pk)
