"""What a tus 1.0.0 client sends, piece by piece."""

import base64
import hashlib

from django.urls import reverse

from intake.files.models import Upload
from intake.portal.capabilities import program_address

CONTENT = b"0123456789"
VERSION = {"Tus-Resumable": "1.0.0"}
OFFSET_TYPE = "application/offset+octet-stream"


def metadata(**values: object) -> str:
    return ",".join(f"{key} {base64.b64encode(str(value).encode()).decode()}" for key, value in values.items())


def create(browser, interview, *, length: object = len(CONTENT), described: str | None = None, **headers):
    given = described or metadata(
        filename="TOLL0007.WAV", filetype="audio/wav", interview=interview.pk, digest="follows"
    )
    return browser.post(
        reverse("portal:uploads"),
        headers={**VERSION, "Upload-Length": str(length), "Upload-Metadata": given, **headers},
    )


def begin_by_program(
    client,
    interview,
    user,
    *,
    described: str | None = None,
    length: int | None = len(CONTENT),
    content: bytes | None = None,
    content_type: str = OFFSET_TYPE,
    **headers,
):
    """POST at the address that a program is given for one interview, with first bytes if there are any."""
    given = {**VERSION, "Upload-Metadata": metadata(filename="TOLL0007.WAV") if described is None else described}
    if length is not None:
        given["Upload-Length"] = str(length)
    body = {} if content is None else {"data": content, "content_type": content_type}
    return client.post(program_address(interview.pk, user), headers={**given, **headers}, **body)


def patch(browser, address, content, *, offset: object = 0, content_type=OFFSET_TYPE, **headers):
    sent = {**VERSION, "Upload-Offset": str(offset), **headers}
    return browser.patch(address, content, content_type=content_type, headers=sent)


def head(browser, address, **headers):
    return browser.head(address, headers={**VERSION, **headers})


def checksum(content: bytes, algorithm: str = "sha256") -> dict[str, str]:
    digest = base64.b64encode(hashlib.new(algorithm, content).digest()).decode()
    return {"Upload-Checksum": f"{algorithm} {digest}"}


def stored_offset() -> int:
    return Upload.objects.get().offset
