"""What the upload panels of the volunteer's pages need: one panel for each purpose, one protocol for all."""

import json
from collections.abc import Iterable
from typing import Any

from django.conf import settings
from django.urls import reverse

from intake.accounts.models import User
from intake.figures import size
from intake.files import room
from intake.files.models import UploadState
from intake.interviews.models import Interview
from intake.interviews.quota import open_bytes_left
from intake.interviews.services import parts_of
from intake.library import services as libraries
from intake.library.models import Library
from intake.portal.capabilities import program_address, upload_address
from intake.portal.purposes import ATTACHMENT, PART, SCAN
from intake.releases.models import SignedForm

RECORDINGS = "audio/*,.wav,.wave,.bwf,.rf64,.w64,.flac,.aif,.aiff,.mp3,.m4a,.aac,.ogg,.opus,.amr,.wma,.caf"
SCANS = ".jpg,.jpeg,.png,.tif,.tiff,.webp,.heic,.heif,.pdf"
DOCUMENTS = f"{SCANS},.txt,.csv,.docx,.odt"


def part_panel(interview: Interview, user: User) -> dict[str, Any]:
    """`unfinished` lists what began earlier; the page holds it as JSON under the id `known`."""
    own = interview.parts.filter(position__isnull=False, upload__owner=user)
    return _panel(
        id="upload",
        title="Add recordings",
        choose="Choose the recordings",
        help="Several at once if you like. Choose the files as the recorder wrote them; you can also drop them here.",
        accept=RECORDINGS,
        in_hand="Recordings in hand",
        folder="Or choose a whole folder",
        done="It has arrived. Under Recordings you see when it is stored twice and the card may be cleared.",
        before_url=reverse("portal:interview-before-upload", args=[interview.pk]),
        metadata={"purpose": PART, "interview": str(interview.pk)},
        target="#parts",
        refresh_url=reverse("portal:interview-parts", args=[interview.pk]),
        program_url=settings.SITE_URL.rstrip("/") + program_address(interview.pk, user),
        things=own,
    )


def attachment_panel(interview: Interview, user: User) -> dict[str, Any]:
    own = interview.attachments.filter(taken_out_at=None, upload__owner=user)
    return _panel(
        id="attach",
        title="Add attachments",
        choose="Choose the files",
        help="Photographs (JPEG, PNG, TIFF, WEBP, HEIC), PDF, plain text, CSV, DOCX or ODT. "
        "You can also drop them here.",
        accept=DOCUMENTS,
        in_hand="Attachments in hand",
        done="It has arrived. Under Attachments you see when it is stored twice.",
        metadata={"purpose": ATTACHMENT, "interview": str(interview.pk)},
        target="#attachments",
        refresh_url=reverse("portal:interview-attachments", args=[interview.pk]),
        things=own,
    )


def scan_panel(signed: SignedForm, user: User) -> dict[str, Any]:
    own = signed.scans.filter(taken_back_at=None, upload__owner=user)
    return _panel(
        id="scan",
        title="Add the scan or photo",
        choose="Choose the scan or photo of each page",
        help="JPEG, PNG, TIFF, WEBP, HEIC or PDF. The whole page, in focus and in good light, so that the signature, "
        "the day and every tick can be read.",
        accept=SCANS,
        in_hand="Scans in hand",
        done="It has arrived. Under Scans you see when it is stored twice.",
        metadata={"purpose": SCAN, "form": str(signed.pk)},
        target="#scans",
        refresh_url=reverse("portal:signed-form-scans", args=[signed.pk]),
        things=own,
    )


def _panel(*, metadata: dict[str, str], things: Any, **said: str) -> dict[str, Any]:
    unfinished = things.filter(upload__state=UploadState.RECEIVING).select_related("upload")
    library = libraries.current()
    return {
        **said,
        "warning": _little_room(library),
        "contact": library.whom_to_ask,
        "metadata": json.dumps(metadata),
        "create_url": reverse("portal:uploads"),
        "piece_bytes": settings.UPLOAD_PIECE_BYTES,
        "max_bytes": settings.UPLOAD_MAX_BYTES,
        "known": f"known-{said['id']}",
        "unfinished": _unfinished(thing.upload for thing in unfinished),
    }


def before_upload(interview: Interview, user: User) -> dict[str, Any]:
    """What is asked when files have been chosen, before the first byte travels. Lengths and room in bytes."""
    whole = [part for part in parts_of(interview) if part.upload.state != UploadState.RECEIVING]
    own = interview.parts.filter(
        position__isnull=False, upload__owner=user, upload__state=UploadState.RECEIVING
    ).select_related("upload")
    return {
        "room_bytes": room.room_bytes(),
        "own_bytes_left": open_bytes_left(user),
        "recordings": [
            {"name": part.upload.name, "length": part.upload.length, "position": part.position} for part in whole
        ],
        "unfinished": _unfinished(part.upload for part in own),
    }


def _little_room(library: Library) -> str:
    """Said before a hand-in begins, when the library's disk is nearly full."""
    if not room.is_low():
        return ""
    left = room.room_bytes()
    told = f"has room for {size(left)} of recordings just now" if left else "is full, and takes nothing in just now"
    return (
        f"The library's disk {told}. Nothing is lost: keep your recordings where they are, and ask the "
        f"{library.whom_to_ask} before you hand in more."
    )


def _unfinished(uploads: Iterable[Any]) -> list[dict[str, Any]]:
    return [
        {
            "upload_url": upload_address(upload),
            "name": upload.name,
            "length": upload.length,
            "offset": upload.offset,
            "digest_known": bool(upload.declared_sha256),
        }
        for upload in uploads
    ]
