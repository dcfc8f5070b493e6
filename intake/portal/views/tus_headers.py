"""What the headers of the resumable upload protocol say, read and written. No rule of ours is in them."""

import base64
import re
from datetime import UTC, datetime

from django.http import HttpRequest, HttpResponse
from django.utils.http import http_date

from intake.errors import Refused
from intake.files import uploads
from intake.files.models import Upload

VERSION = "1.0.0"
EXTENSIONS = "creation,creation-with-upload,expiration,checksum,termination,concatenation"
OFFSET_TYPE = "application/offset+octet-stream"
YEAR_2100_MS = 4_102_444_800_000


class BadHeader(Exception):
    """A header that the protocol does not allow, with a sentence on why."""


def whole_number(request: HttpRequest, header: str) -> int:
    value = request.headers.get(header, "")
    if not (value.isascii() and value.isdigit() and len(value) < 19):
        raise BadHeader(f"{header} must be a whole number of bytes.")
    return int(value)


def length_of(request: HttpRequest) -> int:
    if "Upload-Defer-Length" in request.headers:
        raise BadHeader("The length has to be told at the beginning, by Upload-Length: it is asked whether it fits.")
    return whole_number(request, "Upload-Length")


def metadata_of(request: HttpRequest) -> dict[str, str]:
    """`key base64value` pairs, parted by commas; a key may stand alone, and stands once."""
    pairs = [pair.split() for pair in request.headers.get("Upload-Metadata", "").split(",") if pair.strip()]
    try:
        metadata = {key: base64.b64decode("".join(value), validate=True).decode() for key, *value in pairs}
    except ValueError as error:  # binascii.Error and UnicodeDecodeError are two
        raise BadHeader("Upload-Metadata must hold keys with base64 values.") from error
    if len(metadata) < len(pairs) or any(len(pair) > 2 for pair in pairs):
        raise BadHeader("Upload-Metadata must hold each key once, with one value.")
    return metadata


def moment(milliseconds: str) -> datetime | None:
    """A browser's File.lastModified, in milliseconds since 1970; None for what no clock of our century shows."""
    if not re.fullmatch("[0-9]{1,13}", milliseconds) or not 0 < int(milliseconds) < YEAR_2100_MS:
        return None
    return datetime.fromtimestamp(int(milliseconds) / 1000, UTC)


def said(request: HttpRequest, metadata: dict[str, str]) -> uploads.Said:
    """What is said of it beside its name: `sha256` in hexadecimal, or `digest` as "follows"; whether it is partial."""
    try:
        return uploads.Said(
            sha256=metadata.get("sha256", "").lower(),
            digest_follows=metadata.get("digest") == "follows",
            is_partial=request.headers.get("Upload-Concat", "") == "partial",
        )
    except Refused as refused:
        raise BadHeader(str(refused)) from refused


def joined_addresses(request: HttpRequest) -> list[str]:
    """The paths that a final upload is joined of, in order; none for any other upload."""
    header = request.headers.get("Upload-Concat", "")
    if header in ("", "partial"):
        return []
    kind, _, addresses = header.partition(";")
    if kind != "final" or not addresses.split():
        raise BadHeader("Upload-Concat is “partial”, or “final;” and the addresses of partial uploads.")
    if "Upload-Length" in request.headers:
        raise BadHeader("The length of a joined upload is the sum of its parts: leave Upload-Length out.")
    return addresses.split()


def checksum_of(request: HttpRequest) -> uploads.Checksum | None:
    header = request.headers.get("Upload-Checksum")
    if header is None:
        return None
    algorithm, _, value = header.partition(" ")
    try:
        return uploads.Checksum(algorithm, base64.b64decode(value, validate=True))
    except ValueError as error:  # binascii.Error is one
        raise BadHeader(
            f"Upload-Checksum must be one of {', '.join(uploads.CHECKSUMS)} and a base64 digest."
        ) from error


def tell_progress(response: HttpResponse, upload: Upload) -> HttpResponse:
    """How far it is, and until when it may be gone on with."""
    response["Upload-Offset"] = str(upload.offset)
    if upload.offset < upload.length or upload.is_partial:
        response["Upload-Expires"] = http_date(upload.expires_at.timestamp())
    return response
