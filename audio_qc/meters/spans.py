"""Located stretches of one channel, few enough to list."""

from collections.abc import Sequence

from audio_qc.facts.faults import Span

MOST_SPANS = 200  # over all channels


class SpanLog:
    """When there are too many stretches, nearer ones are joined.

    Joining at a doubled gap gives what joining at that gap from the start would have given, so nothing is left out
    and the order of arrival does not matter.
    """

    def __init__(self, most: int, gap_frames: float) -> None:
        self._most = most
        self._first_gap_frames = gap_frames
        self.clear()

    def clear(self) -> None:
        """Forget everything."""
        self.gap_frames = self._first_gap_frames
        self.spans: list[tuple[int, int]] = []
        self.count = 0

    def add(self, start: int, end: int) -> None:
        """Take a stretch that begins after all before it."""
        self.count += 1
        self._join(start, end)
        while len(self.spans) > self._most:
            self.gap_frames *= 2
            spans, self.spans = self.spans, []
            for span in spans:
                self._join(*span)

    def _join(self, start: int, end: int) -> None:
        if self.spans and start - self.spans[-1][1] <= self.gap_frames:
            self.spans[-1] = (self.spans[-1][0], max(end, self.spans[-1][1]))
        else:
            self.spans.append((start, end))


def joined(logs: Sequence[SpanLog], most: int) -> SpanLog:
    """Return one log with the stretches of several of the same channel; stretches that overlap stay counted apart."""
    log = SpanLog(most, max(log.gap_frames for log in logs))
    for span in sorted(span for each in logs for span in each.spans):
        log.add(*span)
    log.count = sum(each.count for each in logs)
    return log


def spans_of(logs: Sequence[SpanLog], rate_hz: int) -> tuple[Span, ...]:
    """Return the stretches of all channels in order of time."""
    found = sorted((*span, channel) for channel, log in enumerate(logs) for span in log.spans)
    return tuple(Span(start / rate_hz, end / rate_hz, start, end, channel) for start, end, channel in found)


def merged_s(logs: Sequence[SpanLog], rate_hz: int) -> float:
    """Return the gap across which listed stretches are joined, the widest of all channels."""
    return max(log.gap_frames for log in logs) / rate_hz
