"""The resumable upload protocol tus 1.0.0 with the extensions that tus_headers names, thin over files.uploads."""

from collections.abc import Callable
from contextlib import suppress
from functools import wraps
from typing import Any, BinaryIO, cast
from urllib.parse import urlsplit
from uuid import UUID

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.db import transaction
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404
from django.urls import Resolver404, resolve
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_POST, require_safe

from intake.access.querysets import visible
from intake.accounts.models import User
from intake.errors import Refused
from intake.files import uploads
from intake.files.media import WrongKind
from intake.files.models import Upload, UploadState
from intake.files.storage import Busy
from intake.interviews.models import Interview
from intake.portal import capabilities, panels
from intake.portal.purposes import Purpose, purpose_of, stop
from intake.portal.views import tus_headers as headers
from intake.portal.views.tus_headers import BadHeader
from intake.web.requests import SignedInRequest
from intake.web.second_step import must_set_up

CHECKSUM_MISMATCH = 460  # the protocol's own status
GONE = {UploadState.STOPPED: "This upload was stopped.", UploadState.EXPIRED: uploads.EXPIRED}
View = Callable[..., HttpResponse]
Handler = Callable[[HttpRequest, Upload], HttpResponse]


def tus(view: View) -> View:
    """The protocol's version is checked and told; refusals are plain sentences, a redirect would be taken for one."""

    @wraps(view)
    def wrapped(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if request.method != "OPTIONS" and request.headers.get("Tus-Resumable") != headers.VERSION:
            response = _say("This address speaks tus 1.0.0.", 412)
            response["Tus-Version"] = headers.VERSION
        else:
            try:
                response = view(request, *args, **kwargs)
            except BadHeader as bad:
                response = _say(str(bad), 400)
        response["Tus-Resumable"] = headers.VERSION
        response["Cache-Control"] = "no-store"
        return response

    return login_not_required(wrapped)


@tus
def create(request: SignedInRequest) -> HttpResponse:
    """Begin an upload from a page, as the person who is signed in."""
    if request.method == "OPTIONS":
        return _abilities()
    if request.method != "POST":
        return _not_allowed("OPTIONS, POST")
    if not request.user.is_authenticated:
        return _say("You have been signed out. Sign in again and go on; nothing is lost.", 401)
    return _why_not(request) or _create(request, request.user, headers.metadata_of(request))


@csrf_exempt
@tus
def create_for_program(request: HttpRequest, signed: str) -> HttpResponse:
    """Begin an upload from a program that was given this address, as the person it was made for."""
    if request.method == "OPTIONS":
        return _abilities()
    if request.method != "POST":
        return _not_allowed("OPTIONS, POST")
    known = capabilities.of_program(signed)
    if known is None:
        return _say("This address is no longer good. Take a new one from the interview's page.", 404)
    user, interview_id = known
    return _create(request, user, {**headers.metadata_of(request), "purpose": "part", "interview": interview_id})


# SECURITY: no cookie gives the right to an upload, its address does; so there is no request to be forged.
@csrf_exempt
@tus
def upload(request: HttpRequest, pk: UUID, key: str) -> HttpResponse:
    override = request.headers.get("X-HTTP-Method-Override") if request.method == "POST" else None
    handler = _HANDLERS.get(override or request.method or "")
    if handler is None:
        return _not_allowed("HEAD, PATCH, DELETE, OPTIONS")
    if handler is _options:
        return _abilities()
    upload = capabilities.known_upload(pk, key)
    if upload is None:
        return _say("This upload is not known.", 404)
    if upload.state in GONE:
        return _say(GONE[UploadState(upload.state)].format(name=upload.name), 410)
    return handler(request, upload)


@csrf_exempt
@login_not_required
@require_POST
def digest(request: HttpRequest, pk: UUID, key: str) -> HttpResponse:
    """The SHA-256 of the whole file, worked out on the volunteer's own computer (form field `sha256`, hexadecimal)."""
    upload = capabilities.known_upload(pk, key)
    if upload is None:
        return _say("This upload is not known.", 404)
    try:
        uploads.declare_digest(upload.pk, request.POST.get("sha256", "").lower())
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
    """SECURITY: this address answers signed-out callers itself, so the second step is asked for here as well."""
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


def _create(request: HttpRequest, user: User, metadata: dict[str, str]) -> HttpResponse:
    addresses = headers.joined_addresses(request)
    said = headers.said(request, metadata)
    purpose = purpose_of(user, metadata, is_partial=said.is_partial)
    if purpose is None:
        return _say("What this file belongs to is not known.", 404)
    try:
        upload = _begin(request, user, purpose, metadata, addresses)
    except uploads.TooLarge as refused:
        return _say(str(refused), 413)
    except uploads.NoRoom as refused:
        return _say(str(refused), 507)
    except Refused as refused:
        return _say(str(refused), 422)
    return _created(request, upload, user)


@transaction.atomic
def _begin(
    request: HttpRequest, user: User, purpose: Purpose, metadata: dict[str, str], addresses: list[str]
) -> Upload:
    """The upload and what it belongs to are one promise: neither is there without the other."""
    described: dict[str, Any] = {
        "owner": user,
        "name": metadata.get("filename", ""),
        "media_type": metadata.get("filetype", ""),
        "metadata": request.headers.get("Upload-Metadata", ""),
        "expects": purpose.expects,
        "modified_at": headers.moment(metadata.get("lastmodified", "")),
        "said": headers.said(request, metadata),
    }
    if addresses:
        upload = uploads.join([_partial(address, user) for address in addresses], **described)
    else:
        upload = uploads.begin(**described, length=headers.length_of(request))
    purpose.add(upload)
    uploads.finish_at_once(upload)
    return upload


def _partial(address: str, user: User) -> Upload:
    """The partial upload behind an address, which may be whole or a path alone."""
    try:
        found = resolve(urlsplit(address).path)
    except Resolver404 as error:
        raise BadHeader(f"{address} is no address of an upload.") from error
    upload = capabilities.known_upload(**found.kwargs) if found.view_name == "portal:upload" else None
    if upload is None or upload.owner_id != user.pk:
        raise BadHeader(f"{address} is no address of an upload of yours.")
    return upload


def _created(request: HttpRequest, upload: Upload, user: User) -> HttpResponse:
    """With the first bytes in the same request, if there are any (creation-with-upload)."""
    where = capabilities.upload_address(upload)
    if request.content_type == headers.OFFSET_TYPE and not upload.offset:
        answer = _append(request, upload, offset=0)
        if answer.status_code != 204:
            answer["Location"] = where  # it has begun, and may be gone on with
            return answer
        upload.refresh_from_db()
    return headers.tell_progress(HttpResponse(status=201, headers={"Location": where}), upload)


def _head(request: HttpRequest, upload: Upload) -> HttpResponse:
    response = headers.tell_progress(HttpResponse(status=200), upload)
    response["Upload-Length"] = str(upload.length)
    if upload.metadata:
        response["Upload-Metadata"] = upload.metadata
    joined = [capabilities.upload_address(partial) for partial in upload.partials.order_by("joined_at")]
    if upload.is_partial or joined:
        response["Upload-Concat"] = "partial" if upload.is_partial else f"final;{' '.join(joined)}"
    return response


def _patch(request: HttpRequest, upload: Upload) -> HttpResponse:
    if request.content_type != headers.OFFSET_TYPE:
        return _say(f"A piece comes as {headers.OFFSET_TYPE}.", 415)
    if upload.partials.exists():
        return _say("This upload was joined of others and takes no pieces of its own.", 403)
    return _append(request, upload, offset=headers.whole_number(request, "Upload-Offset"))


def _append(request: HttpRequest, upload: Upload, *, offset: int) -> HttpResponse:
    checksum = headers.checksum_of(request)
    _end_silence(request)
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
            stop(upload, actor=upload.owner)
        return _say(str(refused), 415)
    except Busy:
        return _say("This upload is being sent from somewhere else at this moment.", 423)
    except Refused as refused:
        return _say(str(refused), 409)
    return headers.tell_progress(HttpResponse(status=204), upload)


def _end_silence(request: HttpRequest) -> None:
    """A laptop that was closed says nothing for ever; its connection must not hold the upload, or a thread, for long.

    gunicorn hands its socket out by this name; another server has a limit of its own.
    """
    socket = request.META.get("gunicorn.socket")
    if socket is not None:
        socket.settimeout(settings.UPLOAD_SILENCE_SECONDS)


def _delete(request: HttpRequest, upload: Upload) -> HttpResponse:
    if upload.state == UploadState.STORED:
        return _say(f"“{upload.name}” has been stored and stays with the library.", 403)
    try:
        stop(upload, actor=upload.owner)
    except Refused as refused:
        return _say(str(refused), 403)
    return HttpResponse(status=204)


def _options(request: HttpRequest, upload: Upload) -> HttpResponse:
    return _abilities()


_HANDLERS: dict[str, Handler] = {"HEAD": _head, "PATCH": _patch, "DELETE": _delete, "OPTIONS": _options}


def _abilities() -> HttpResponse:
    told = {
        "Tus-Version": headers.VERSION,
        "Tus-Extension": headers.EXTENSIONS,
        "Tus-Max-Size": str(settings.UPLOAD_MAX_BYTES),
        "Tus-Checksum-Algorithm": ",".join(uploads.CHECKSUMS),
    }
    return HttpResponse(status=204, headers=told)


def _not_allowed(methods: str) -> HttpResponse:
    response = _say("This address does not do that.", 405)
    response["Allow"] = methods
    return response


def _say(sentence: str, status: int) -> HttpResponse:
    return HttpResponse(sentence + "\n", status=status, content_type="text/plain; charset=utf-8")
