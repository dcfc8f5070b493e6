"""Small pieces of the sentences that people read."""

from audio_qc.facts.faults import Span
from audio_qc.measurement import Measurement

MOST_PLACES = 3


def clock(seconds: float) -> str:
    """Return a place in the recording as a listener reads it off a player: 0:07, 12:30, 1:02:03."""
    whole = int(seconds)
    hours, minutes, rest = whole // 3600, whole // 60 % 60, whole % 60
    return f"{hours}:{minutes:02}:{rest:02}" if hours else f"{minutes}:{rest:02}"


def channel_name(channel: int, channels: int) -> str:
    """Return "the left channel" for stereo, a number for more, "the recording" for mono."""
    if channels == 1:
        return "the recording"
    if channels == 2:
        return ("the left channel", "the right channel")[channel]
    return f"channel {channel + 1}"


def channel_names(channels: list[int], measurement: Measurement) -> str:
    """Join channel names with "and"."""
    names = [channel_name(channel, measurement.format.channels) for channel in channels]
    return names[0] if len(names) == 1 else ", ".join(names[:-1]) + " and " + names[-1]


def places(spans: tuple[Span, ...]) -> str:
    """Return where the first few spans begin, each clock reading once: "at 0:07, 1:12 and 2:30"."""
    readings = list(dict.fromkeys(clock(span.start_s) for span in spans))
    shown, more = readings[:MOST_PLACES], len(readings) - MOST_PLACES
    if more > 0:
        return f"at {', '.join(shown)} and later"
    return "at " + (shown[0] if len(shown) == 1 else ", ".join(shown[:-1]) + " and " + shown[-1])


def counted(count: int, one: str, many: str) -> str:
    """Return "1 mark", "3 marks"."""
    return f"{count} {one if count == 1 else many}"


def seconds_text(seconds: float) -> str:
    """Return a short duration: "4 ms", "2.5 seconds", "3 minutes"."""
    if seconds < 1:
        return f"{max(0.1, seconds * 1000):.3g} ms"
    if seconds < 120:
        return f"{seconds:.1f} seconds"
    return f"{seconds / 60:.0f} minutes"


def listed(spans: tuple[Span, ...], total: int, merged_s: float) -> str:
    """Say how the listed spans stand to the total, when they are not one to one."""
    if len(spans) >= total:
        return ""
    return f" {len(spans)} stretches are listed, joined where less than {merged_s:.3g} s apart."
