"""A finding: one measure held against a profile, in words for the volunteer and for the archivist."""

from dataclasses import dataclass
from typing import Any

from audio_qc.facts.faults import Span
from audio_qc.plain import from_plain, to_plain

GOOD, NOTE, LOOK_CLOSER, PROBLEM, NOT_MEASURED = "good", "note", "look closer", "problem", "not measured"
STANDINGS = (GOOD, NOTE, LOOK_CLOSER, PROBLEM, NOT_MEASURED)


@dataclass(frozen=True)
class Finding:
    """An opinion: `code` and `measure` are stable keys, everything else is what people read.

    `value` is None, with the `reason`, when the measure could not be made or has no single figure.
    """

    code: str
    measure: str
    standing: str
    title: str
    value: float | None = None
    unit: str = ""
    limit: str = ""
    source: str = ""
    volunteer: str = ""
    archivist: str = ""
    spans: tuple[Span, ...] = ()
    channel: int | None = None
    reason: str = ""

    def to_dict(self) -> dict[str, Any]:
        """Return JSON-ready data."""
        data: dict[str, Any] = to_plain(self)
        return data

    @classmethod
    def from_dict(cls, data: dict[str, Any]) -> "Finding":
        """Rebuild what `to_dict` wrote; raises StoredDataError for a damaged record."""
        finding: Finding = from_plain(cls, data)
        return finding
