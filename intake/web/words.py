"""Figures as people read them."""


def timecode(seconds: float) -> str:
    """1:02:33, or 2:33 under an hour; parts of a second are dropped."""
    minutes, rest = divmod(int(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02d}:{rest:02d}" if hours else f"{minutes}:{rest:02d}"


def in_groups(digest: str) -> str:
    """A digest in groups of eight, to be compared by eye or read aloud."""
    return " ".join(digest[start : start + 8] for start in range(0, len(digest), 8))
