"""Times of words beside the sound: told to people, and held against the passages that are closed."""

from intake.interviews.models import Part
from intake.releases.passages import silences


def timecode(ms: int) -> str:
    """Such as 0:12:03."""
    minutes, seconds = divmod(ms // 1000, 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02}:{seconds:02}"


def is_closed_at(part: Part, starts_ms: int, ends_ms: int | None) -> bool:
    """Whether any of it lies in a closed passage; without an end, whether it begins in one."""
    begins, ends = starts_ms / 1000, (ends_ms if ends_ms is not None else starts_ms) / 1000
    return any((begins < closes and ends > opens) or opens <= begins < closes for opens, closes in silences(part))
