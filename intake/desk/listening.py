"""What the listening desk of an interview draws and plays: all its parts on one time axis."""

from dataclasses import dataclass
from typing import Any

from django.db.models import prefetch_related_objects
from django.urls import reverse

from intake.accounts.models import User
from intake.interviews.models import Interview, Mark
from intake.outputs.models import Output, OutputKind
from intake.review.listening import Opening, opening_of
from intake.web.parts import PartRow
from intake.web.timecodes import exact_timecode


@dataclass(frozen=True)
class ListeningDesk:
    """`told` is for the page's script; the lists are for people, in the order of the recording."""

    told: dict[str, Any]
    marks: list[dict[str, Any]]
    kinds: list[tuple[str, str]]
    opening: list[Opening]

    @property
    def seconds(self) -> float:
        return sum(part["seconds"] for part in self.told["parts"])


def listening_desk(interview: Interview, rows: list[PartRow], user: User) -> ListeningDesk | None:
    """None while there is nothing to hear, or nothing may be heard."""
    heard = [row for row in rows if row.has_listening_copy and row.seconds and not row.why_not]
    if not heard:
        return None
    prefetch_related_objects([row.part for row in heard], "marks__set_by", "heard")
    marks = [told_of(mark, user) for row in heard for mark in row.part.marks.all() if mark.kind != Mark.Kind.RECORDER]
    return ListeningDesk(
        told={
            "parts": _parts(heard),
            "flags": [{"part": row.part.pk, **flag} for row in heard for flag in row.flags],
            "marks": marks,
            "heard": {row.part.pk: _spans(row, user) for row in heard},
        },
        marks=marks,
        kinds=[(kind.value, str(kind.label)) for kind in Mark.Kind if kind != Mark.Kind.RECORDER],
        opening=opening_of(interview),
    )


def _parts(rows: list[PartRow]) -> list[dict[str, Any]]:
    ids = [str(row.part.pk) for row in rows]
    drawn = Output.objects.filter(kind=OutputKind.SOUND_PICTURE, subject_id__in=ids)
    pictures = set(drawn.values_list("subject_id", flat=True))
    return [
        {
            "id": row.part.pk,
            "label": f"Part {row.part.position}",
            "seconds": row.seconds,
            "channels": row.channels,
            "audio": row.audio_url,
            "picture": reverse("desk:part-picture", args=[row.part.pk]) if str(row.part.pk) in pictures else "",
            "marks": reverse("desk:part-marks", args=[row.part.pk]),
            "heard": reverse("desk:part-heard", args=[row.part.pk]),
        }
        for row in rows
    ]


def told_of(mark: Mark, user: User) -> dict[str, Any]:
    """One mark, as the page's script and its list take it."""
    return {
        "id": mark.pk,
        "part": mark.part_id,
        "at": mark.at_seconds,
        "time": exact_timecode(mark.at_seconds),
        "kind": mark.kind,
        "label": mark.get_kind_display(),
        "note": mark.note,
        "by": mark.set_by.name if mark.set_by else "",
        "own": mark.set_by_id == user.pk,
        "url": reverse("desk:mark-remove", args=[mark.pk]),
    }


def _spans(row: PartRow, user: User) -> list[Any]:
    return next((one.spans for one in row.part.heard.all() if one.by_id == user.pk), [])
