"""The resumable upload protocol tus 1.0.0 (core, creation, checksum, termination), thin over files.uploads."""

import base64
import re
from collections.abc import Callable
from contextlib import suppress
from datetime import UTC, datetime
from functools import wraps
from typing import Any, BinaryIO, cast
from uuid import UUID

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.db import transaction
from django.http import HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from intake.access.policy import visible
from intake.errors import Refused
from intake.files import uploads
from intake.files.media import WrongKind
from intake.files.models import Upload, UploadState
from intake.files.storage import Busy
from intake.interviews.models import Interview
from intake.portal import panels
from intake.portal.purposes import Purpose, purpose_of, stop
from intake.web.requests import SignedInRequest
from intake.web.second_step import must_set_up

VERSION = "1.0.0"
OFFSET_TYPE = "application/offset+octet-stream"
CHECKSUM_MISMATCH = 460  # the protocol's own status
YEAR_2100_MS = 4_102_444_800_000
View = Callable[..., HttpResponse]


class BadHeader(Exception):
    """A header that the protocol does not allow, with a sentence on why."""


def tus(view: View) -> View:
    """Signed-in callers only, the protocol's version checked and told.

    Refusals are plain sentences; a redirect would be taken for an answer.
    """

    @wraps(view)
    def wrapped(request: SignedInRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if request.method != "OPTIONS" and request.headers.get("Tus-Resumable") != VERSION:
            response = _say("This address speaks tus 1.0.0.", 412)
            response["Tus-Version"] = VERSION
        elif request.method != "OPTIONS" and not request.user.is_authenticated:
            response = _say("You have been signed out. Sign in again and go on; nothing is lost.", 401)
        elif request.method != "OPTIONS" and (reason := _why_not(request)):
            response = reason
        else:
            try:
                response = view(request, *args, **kwargs)
            except BadHeader as bad:
                response = _say(str(bad), 400)
        response["Tus-Resumable"] = VERSION
        response["Cache-Control"] = "no-store"
        return response

    return login_not_required(wrapped)


@tus
def create(request: SignedInRequest) -> HttpResponse:
    if request.method == "OPTIONS":
        return _abilities()
    if request.method != "POST":
        return _not_allowed("OPTIONS, POST")
    metadata = _metadata(request.headers.get("Upload-Metadata", ""))
    purpose = purpose_of(request.user, metadata)
    if purpose is None:
        return _say("What this file belongs to is not known.", 404)
    try:
        upload = _begin(request, purpose, metadata)
    except uploads.TooLarge as refused:
        return _say(str(refused), 413)
    except uploads.NoRoom as refused:
        return _say(str(refused), 507)
    except Refused as refused:
        return _say(str(refused), 422)
    return HttpResponse(
        status=201, headers={"Location": reverse("portal:upload", args=[upload.pk]), "Upload-Offset": "0"}
    )


@tus
def upload(request: SignedInRequest, pk: UUID) -> HttpResponse:
    # SECURITY: the override is honoured on POST alone, which has passed the CSRF check.
    override = request.headers.get("X-HTTP-Method-Override") if request.method == "POST" else None
    handler = _HANDLERS.get(override or request.method or "")
    if handler is None:
        return _not_allowed("HEAD, PATCH, DELETE, OPTIONS")
    if handler is _options:
        return _abilities()
    # SECURITY: only the person who began an upload sends to it, staff included.
    upload = Upload.objects.filter(pk=pk, owner=request.user).first()
    if upload is None:
        return _say("This upload is not known.", 404)
    if upload.state == UploadState.STOPPED:
        return _say("This upload was stopped.", 410)
    return handler(request, upload)


@login_not_required
@require_POST
def digest(request: SignedInRequest, pk: UUID) -> HttpResponse:
    """The SHA-256 of the whole file, worked out on the volunteer's own computer (form field `sha256`, hexadecimal)."""
    if not request.user.is_authenticated:
        return _say("You have been signed out. Sign in again and go on; nothing is lost.", 401)
    if reason := _why_not(request):
        return reason
    if not Upload.objects.filter(pk=pk, owner=request.user).exists():
        return _say("This upload is not known.", 404)
    try:
        uploads.declare_digest(pk, request.POST.get("sha256", "").lower())
    except Refused as refused:
        return _say(str(refused), 409)
    return HttpResponse(status=204)


@require_safe
def before(request: SignedInRequest, pk: int) -> HttpResponse:
    """What a browser asks when files have been chosen: the room there is, and what the interview holds already."""
    if is_another(request):
        return _somebody_else()
    interview = get_object_or_404(visible(Interview, request.user), pk=pk)
    return JsonResponse(panels.before_upload(interview, request.user))


def is_another(request: SignedInRequest) -> bool:
    """Whether somebody has signed in since the page that asks was drawn (it names who was signed in then)."""
    return request.headers.get("X-Account", str(request.user.pk)) != str(request.user.pk)


def _why_not(request: SignedInRequest) -> HttpResponse | None:
    """SECURITY: these addresses answer signed-out callers themselves, so the second step is asked for here as well."""
    if is_another(request):
        return _somebody_else()
    if must_set_up(request.user):
        return _say("Staff sign in with a second step. Open any page of the site to set it up; nothing is lost.", 403)
    return None


def _somebody_else() -> HttpResponse:
    """Told by a header too: an answer to HEAD has no body."""
    response = _say("Somebody else is signed in in this browser now. Sign in again as yourself and go on.", 403)
    response["X-Account-Differs"] = "yes"
    return response


def _head(request: SignedInRequest, upload: Upload) -> HttpResponse:
    headers = {"Upload-Offset": str(upload.offset), "Upload-Length": str(upload.length)}
    if upload.metadata:
        headers["Upload-Metadata"] = upload.metadata
    return HttpResponse(status=200, headers=headers)


def _patch(request: SignedInRequest, upload: Upload) -> HttpResponse:
    if request.content_type != OFFSET_TYPE:
        return _say(f"A piece comes as {OFFSET_TYPE}.", 415)
    offset = _whole_number(request, "Upload-Offset")
    checksum = _checksum(request.headers.get("Upload-Checksum"))
    try:
        upload = uploads.append(upload.pk, offset=offset, body=cast("BinaryIO", request), checksum=checksum)
    except uploads.WrongOffset:
        return _say("The piece does not start where the last one ended.", 409)
    except uploads.WrongChecksum:
        return _say("A piece was damaged on its way; it is sent again.", CHECKSUM_MISMATCH)
    except uploads.NoRoom as refused:
        return _say(str(refused), 507)
    except WrongKind as refused:
        with suppress(Refused):  # the interview may have moved on; nothing of the file was counted
            stop(upload, actor=request.user)
        return _say(str(refused), 415)
    except Busy:
        return _say("This upload is being sent from somewhere else at this moment.", 423)
    except Refused as refused:
        return _say(str(refused), 409)
    return HttpResponse(status=204, headers={"Upload-Offset": str(upload.offset)})


def _delete(request: SignedInRequest, upload: Upload) -> HttpResponse:
    if upload.state == UploadState.STORED:
        return _say(f"“{upload.name}” has been stored and stays with the library.", 403)
    try:
        stop(upload, actor=request.user)
    except Refused as refused:
        return _say(str(refused), 403)
    return HttpResponse(status=204)


def _options(request: SignedInRequest, upload: Upload) -> HttpResponse:
    return _abilities()


_HANDLERS: dict[str, Callable[[SignedInRequest, Upload], HttpResponse]] = {
    "HEAD": _head,
    "PATCH": _patch,
    "DELETE": _delete,
    "OPTIONS": _options,
}


def _abilities() -> HttpResponse:
    headers = {
        "Tus-Version": VERSION,
        "Tus-Extension": "creation,checksum,termination",
        "Tus-Max-Size": str(settings.UPLOAD_MAX_BYTES),
        "Tus-Checksum-Algorithm": ",".join(uploads.CHECKSUMS),
    }
    return HttpResponse(status=204, headers=headers)


@transaction.atomic
def _begin(request: SignedInRequest, purpose: Purpose, metadata: dict[str, str]) -> Upload:
    """The upload and what it belongs to are one promise: neither is there without the other."""
    upload = uploads.begin(
        owner=request.user,
        name=metadata.get("filename", ""),
        media_type=metadata.get("filetype", ""),
        length=_whole_number(request, "Upload-Length"),
        metadata=request.headers.get("Upload-Metadata", ""),
        expects=purpose.expects,
        modified_at=_moment(metadata.get("lastmodified", "")),
    )
    purpose.add(upload)
    return upload


def _whole_number(request: SignedInRequest, header: str) -> int:
    value = request.headers.get(header, "")
    if not (value.isascii() and value.isdigit() and len(value) < 19):
        raise BadHeader(f"{header} must be a whole number of bytes.")
    return int(value)


def _metadata(header: str) -> dict[str, str]:
    """`key base64value` pairs, parted by commas; a key may stand alone, and stands once."""
    pairs = [pair.split() for pair in header.split(",") if pair.strip()]
    try:
        metadata = {key: base64.b64decode("".join(value), validate=True).decode() for key, *value in pairs}
    except ValueError as error:  # binascii.Error and UnicodeDecodeError are two
        raise BadHeader("Upload-Metadata must hold keys with base64 values.") from error
    if len(metadata) < len(pairs) or any(len(pair) > 2 for pair in pairs):
        raise BadHeader("Upload-Metadata must hold each key once, with one value.")
    return metadata


def _moment(milliseconds: str) -> datetime | None:
    """A browser's File.lastModified, in milliseconds since 1970; None for what no clock of our century shows."""
    if not re.fullmatch("[0-9]{1,13}", milliseconds) or not 0 < int(milliseconds) < YEAR_2100_MS:
        return None
    return datetime.fromtimestamp(int(milliseconds) / 1000, UTC)


def _checksum(header: str | None) -> uploads.Checksum | None:
    if header is None:
        return None
    algorithm, _, value = header.partition(" ")
    try:
        return uploads.Checksum(algorithm, base64.b64decode(value, validate=True))
    except ValueError as error:  # binascii.Error is one
        raise BadHeader(
            f"Upload-Checksum must be one of {', '.join(uploads.CHECKSUMS)} and a base64 digest."
        ) from error


def _not_allowed(methods: str) -> HttpResponse:
    response = _say("This address does not do that.", 405)
    response["Allow"] = methods
    return response


def _say(sentence: str, status: int) -> HttpResponse:
    return HttpResponse(sentence + "\n", status=status, content_type="text/plain; charset=utf-8")
