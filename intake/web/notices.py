"""What is worth knowing of a part beside its sound: it was handed in before; the recorder's clock was wrong."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from django.urls import reverse
from django.utils import formats, timezone

from intake.access.policy import visible
from intake.accounts.models import User
from intake.interviews.models import Part
from intake.qc.models import QCReport

# A recording begun in the evening may end on the next day, and clocks stand in other time zones.
GRACE = timedelta(days=1)


@dataclass(frozen=True)
class Notice:
    """A sentence, with a link to what it speaks of where there is one."""

    sentence: str
    url: str = ""
    link: str = ""


def same_recordings(parts: Iterable[Part], *, user: User, audience: str) -> dict[int, list[Notice]]:
    """For each part (by id) the other parts with the same SHA-256 that this person may know of.

    Within an interview the later part names the earlier one. `audience` is the site that the links stay in.
    """
    files = {part.file.sha256 for part in parts if part.file}
    known = visible(Part, user).filter(file__sha256__in=files, position__isnull=False)
    by_digest: dict[str, list[Part]] = defaultdict(list)
    for other in known.select_related("file", "interview").prefetch_related("interview__participants__person"):
        assert other.file is not None, "chosen by its file's digest"
        by_digest[other.file.sha256].append(other)
    return {part.pk: _notices(part, by_digest[part.file.sha256], audience) for part in parts if part.file}


def _notices(part: Part, others: list[Part], audience: str) -> list[Notice]:
    here = [other for other in others if other.interview_id == part.interview_id and _is_before(other, part)]
    elsewhere = [other for other in others if other.interview_id != part.interview_id]
    return [Notice(f"The same recording as part {other.position}.") for other in here[:1]] + [
        Notice(
            f"The same recording is part {other.position} of another interview:",
            reverse(f"{audience}:interview-detail", args=[other.interview_id]),
            other.interview.title,
        )
        for other in elsewhere
    ]


def _is_before(other: Part, part: Part) -> bool:
    return other.position is not None and part.position is not None and other.position < part.position


def clock_notices(part: Part, report: QCReport | None, *, audience: str) -> list[Notice]:
    """Whether the recorder's clock tells another day than the volunteer did. The volunteer's day stands."""
    day = _day_on_the_clock(part, report)
    told = part.interview.recorded_on
    if day is None or abs(day - told) <= GRACE:
        return []
    who, whose = ("you", "Your") if audience == "portal" else ("the volunteer", "That")
    return [
        Notice(
            f"The recorder's clock says {formats.date_format(day)}; {who} wrote {formats.date_format(told)}. "
            f"{whose} date is kept. If it is right, set the recorder's clock before the next interview."
        )
    ]


def _day_on_the_clock(part: Part, report: QCReport | None) -> date | None:
    """The day that the recorder wrote into the file; else the file's own date, where no copying can explain it.

    A file copied or edited later has a later date; one from before the interview, or from the future, has a clock's.
    """
    if report and report.recorder_day:
        return report.recorder_day
    modified = part.upload.modified_at
    if modified is None:
        return None
    day = timezone.localtime(modified).date()
    is_explained = part.interview.recorded_on <= day <= timezone.localdate() + GRACE
    return None if is_explained else day
