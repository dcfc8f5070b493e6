"""Serve a stored file, whole or the one byte range a player asks for (RFC 9110, section 14)."""

import re
from collections.abc import Iterator
from contextlib import closing
from typing import BinaryIO

from django.http import HttpRequest, HttpResponse, HttpResponseBase, HttpResponseRedirect, StreamingHttpResponse
from django.utils.http import content_disposition_header

from intake.files import media, serving, storage
from intake.files.models import StoredFile

BLOCK = 256 * 1024
SHOWN_BY_BROWSERS = frozenset({media.JPEG, media.PNG, media.WEBP})


def serve(request: HttpRequest, file: StoredFile, *, download: bool = False, name: str = "") -> HttpResponseBase:
    """The file's bytes.

    The caller has checked that this person may have them. Several ranges at once are answered with the whole; HEAD
    with the headers of the whole, once a copy was found to be there. `name` is what a browser saves it under, where
    that is not its own.

    Where the settings say so, the server in front or the object store itself sends the bytes of a GET.
    """
    disposition = content_disposition_header(as_attachment=download, filename=name or file.name) or ""
    return _sent_by_others(request, file, disposition) or _sent_here(request, file, disposition)


def _sent_by_others(request: HttpRequest, file: StoredFile, disposition: str) -> HttpResponseBase | None:
    """None where nobody else sends files, and where the primary store has no copy to give: then it is sent here."""
    path = storage.front_path(file.key)
    link = storage.signed_link(file.key, media_type=file.media_type, disposition=disposition)
    if request.method != "GET" or not (path or link) or not serving.can_be_given(file):
        return None
    response: HttpResponseBase
    if path:
        response = HttpResponse(content_type=file.media_type)
        response["X-Accel-Redirect"] = path
        response["Content-Disposition"] = disposition
    else:
        response = HttpResponseRedirect(link)
    response["Cache-Control"] = "private, no-store"
    return response


def _sent_here(request: HttpRequest, file: StoredFile, disposition: str) -> HttpResponseBase:
    wanted = _range(_asked(request, file), file.bytes)
    if wanted is None:
        start, stop, status = 0, file.bytes, 200
    elif wanted[0] >= wanted[1]:
        headers = {"Content-Range": f"bytes */{file.bytes}", "ETag": entity_tag(file)}
        return HttpResponse(status=416, headers=headers)
    else:
        start, stop, status = *wanted, 206
    # Opened before anything is answered: a missing copy is an error, not a short file.
    copy = serving.open_copy(file, start)
    response: HttpResponseBase
    if request.method == "HEAD":
        copy.close()
        response = HttpResponse(content_type=file.media_type)
    else:
        response = StreamingHttpResponse(_blocks(copy, stop - start), status=status, content_type=file.media_type)
    response["Content-Length"] = str(stop - start)
    response["Accept-Ranges"] = "bytes"
    response["ETag"] = entity_tag(file)
    response["Cache-Control"] = "private, no-store"
    response["Content-Disposition"] = disposition
    # SECURITY: a volunteer's file must never be taken for a page of ours.
    response["X-Content-Type-Options"] = "nosniff"
    if status == 206:
        response["Content-Range"] = f"bytes {start}-{stop - 1}/{file.bytes}"
    return response


def entity_tag(file: StoredFile) -> str:
    """A strong validator (RFC 9110, section 8.8.3): the SHA-256 of the bytes."""
    return f'"{file.sha256}"'


def _asked(request: HttpRequest, file: StoredFile) -> str:
    """The Range header that counts: GET alone has one (section 14.2), and If-Range must name these bytes (13.1.5)."""
    if request.method != "GET" or request.headers.get("If-Range", entity_tag(file)) != entity_tag(file):
        return ""
    return request.headers.get("Range", "")


def serve_from_outside(request: HttpRequest, file: StoredFile) -> HttpResponseBase:
    """An attachment or a scan, shown in the browser where it is a picture, handed out as a download otherwise.

    SECURITY: its media type was told from its bytes, nosniff keeps browsers to it, and the sandbox gives whatever it
    turns out to be no scripts, no forms and no place of ours. A PDF is downloaded: browsers do not draw one in a
    sandbox, and without it a page of somebody else's links would stand under our address.
    """
    is_shown = file.media_type in SHOWN_BY_BROWSERS
    disposition = content_disposition_header(as_attachment=not is_shown, filename=file.name) or ""
    # Always by ourselves: a server in front drops the headers that keep it harmless.
    response = _sent_here(request, file, disposition)
    response["Content-Security-Policy"] = "default-src 'none'; sandbox"
    return response


def _range(header: str, size: int) -> tuple[int, int] | None:
    """Start and stop (exclusive) of a single range; None if there is none that we understand."""
    match = re.fullmatch(r"bytes=([0-9]{0,18})-([0-9]{0,18})", header.strip())
    if match is None or match.group(1) == match.group(2) == "":
        return None
    first, last = match.groups()
    if not first:
        return max(size - int(last), 0), size
    stop = min(int(last) + 1, size) if last else size
    return (int(first), stop) if not last or int(last) >= int(first) else None


def _blocks(copy: BinaryIO, left: int) -> Iterator[bytes]:
    with closing(copy):
        while left > 0 and (block := copy.read(min(BLOCK, left))):
            left -= len(block)
            yield block
