"""What is worth knowing of a part beside its sound: it was handed in before; the recorder's clock was wrong."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Q
from django.urls import reverse
from django.utils import formats, timezone

from intake.access.querysets import visible
from intake.accounts.models import User
from intake.interviews.models import Part
from intake.qc.models import QCReport
from intake.qc.services import are_twins, sound_digest

# A recording begun in the evening may end on the next day, and clocks stand in other time zones.
GRACE = timedelta(days=1)


@dataclass(frozen=True)
class Notice:
    """A sentence, with a link to what it speaks of where there is one."""

    sentence: str
    url: str = ""
    link: str = ""


def same_recordings(parts: Iterable[Part], *, user: User, audience: str) -> dict[int, list[Notice]]:
    """For each part (by id) the other parts with the same bytes or the same sound that this person may know of.

    Within an interview the later part names the earlier one. `audience` is the site that the links stay in.
    """
    parts = [part for part in parts if part.file]
    files = {part.file.sha256 for part in parts if part.file}
    sounds = {sound for part in parts if (sound := sound_digest(part.file))}
    same = Q(file__sha256__in=files) | Q(file__qc_reports__samples_sha256__in=sounds)
    known = visible(Part, user).filter(same, position__isnull=False).distinct().select_related("file", "interview")
    others = list(known.prefetch_related("interview__participants__person", "file__qc_reports"))
    return {part.pk: _notices(part, [other for other in others if are_twins(part, other)], audience) for part in parts}


def _notices(part: Part, others: list[Part], audience: str) -> list[Notice]:
    here = [other for other in others if other.interview_id == part.interview_id and _is_before(other, part)]
    elsewhere = [other for other in others if other.interview_id != part.interview_id]
    return [Notice(f"{_same(part, other)} as part {other.position}.") for other in here[:1]] + [
        Notice(
            f"{_same(part, other)} is part {other.position} of another interview:",
            reverse(f"{audience}:interview-detail", args=[other.interview_id]),
            other.interview.title,
        )
        for other in elsewhere
    ]


def _same(part: Part, other: Part) -> str:
    """Another file may hold the same sound: converted, described, or with another header."""
    assert part.file is not None, "only stored parts are compared"
    assert other.file is not None, "only stored parts are compared"
    return "The same recording" if part.file.sha256 == other.file.sha256 else "The same sound, in another file,"


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
