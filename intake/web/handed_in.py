"""Attachments and scans as pages show them: whether they have arrived, and whether both copies match."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from intake.files.models import UploadState
from intake.files.services import is_safe
from intake.jobs.models import Job, Kind
from intake.web.parts import being_stored, on_its_way
from intake.web.ranges import SHOWN_BY_BROWSERS


@dataclass(frozen=True)
class FileRow:
    """One file that was handed in. `share` is the share done (0 to 1) of what is going on, if that is known."""

    thing: Any
    now: str
    share: float | None
    is_pending: bool
    is_safe: bool

    @property
    def percent(self) -> int | None:
        return None if self.share is None else int(self.share * 100)

    @property
    def is_picture(self) -> bool:
        """Whether browsers draw it."""
        return bool(self.thing.file) and self.thing.file.media_type in SHOWN_BY_BROWSERS


def file_rows(things: Sequence[Any]) -> list[FileRow]:
    """A row for each attachment or scan, in their order."""
    ids = [str(thing.upload_id) for thing in things]
    jobs = {
        job.subject_id: job for job in Job.objects.filter(kind=Kind.STORE_UPLOAD, subject_id__in=ids).order_by("id")
    }
    return [_row(thing, jobs.get(str(thing.upload_id))) for thing in things]


def _row(thing: Any, job: Job | None) -> FileRow:
    now, share, is_pending = _going_on(thing, job)
    return FileRow(thing, now, share, is_pending, is_safe=thing.file is not None and is_safe(thing.file))


def _going_on(thing: Any, job: Job | None) -> tuple[str, float | None, bool]:
    upload = thing.upload
    if upload.state == UploadState.RECEIVING:
        return on_its_way(upload)
    if upload.state == UploadState.RECEIVED:
        return being_stored(job)
    if upload.state == UploadState.DAMAGED:
        return "It arrived damaged. Take it out and send it again.", None, False
    return "", None, False
