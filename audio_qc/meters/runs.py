"""Runs of equal samples: clipping at full scale, and digital silence."""

import numpy as np

from audio_qc import kernels
from audio_qc.measurement import ChannelClipping, Clipping, DigitalSilence, Span

# Near full scale: mu-law's largest value is 32124/32768, 0.17 dB below; recorders also stop a few steps short.
RAIL = 0.98
# Three equal samples at the top are an "over" by the usual rule of converters' indicators: common practice, no source.
LEAST_CLIPPED_FRAMES = 3
MOMENT_S = 0.25  # clipped runs closer than this are heard as one event
LEAST_SILENCE_S = 0.1
MOST_SPANS = 200  # over all channels
CLIPPED, SILENT = 0, 1


class SpanLog:
    """Located stretches of one channel, few enough to list: when there are too many, nearer ones are joined.

    Joining at a doubled gap gives what joining at that gap from the start would have given, so nothing is left out
    and the order of arrival does not matter.
    """

    def __init__(self, most: int, gap_frames: float) -> None:
        self._most = most
        self.gap_frames = gap_frames
        self.spans: list[tuple[int, int]] = []
        self.count = 0

    def add(self, start: int, end: int) -> None:
        self.count += 1
        self._join(start, end)
        while len(self.spans) > self._most:
            self.gap_frames *= 2
            spans, self.spans = self.spans, []
            for span in spans:
                self._join(*span)

    def _join(self, start: int, end: int) -> None:
        if self.spans and start - self.spans[-1][1] <= self.gap_frames:
            self.spans[-1] = (self.spans[-1][0], end)
        else:
            self.spans.append((start, end))


class _Channel:
    """The run under way, the open groups and the totals of one channel, as `kernels.equal_runs` keeps them."""

    def __init__(self, rate_hz: int, most_spans: int) -> None:
        self.least = np.array([LEAST_CLIPPED_FRAMES, max(3.0, LEAST_SILENCE_S * rate_hz)])
        self._gap = np.array([MOMENT_S * rate_hz, 0.0])
        self._run = np.array([np.nan, 0.0, 0.0])
        self._group = np.full((2, 2), -1.0)
        self.count = np.zeros((2, 4))
        self.logs = (SpanLog(most_spans, MOMENT_S * rate_hz), SpanLog(most_spans, LEAST_SILENCE_S * rate_hz))

    def add(self, samples: np.ndarray, first_frame: int) -> None:
        out, done = np.empty((2, len(samples) // 3 + 2, 2)), np.zeros(2, dtype=np.int64)
        kernels.equal_runs(
            samples, first_frame, self._run, RAIL, self.least, self._gap, self._group, self.count, out, done
        )
        self._log(out, done)

    def end(self) -> None:
        out, done = np.empty((2, 3, 2)), np.zeros(2, dtype=np.int64)
        kernels.end_of_runs(self._run, RAIL, self.least, self._gap, self._group, self.count, out, done)
        self._log(out, done)

    def _log(self, out: np.ndarray, done: np.ndarray) -> None:
        for kind, log in enumerate(self.logs):
            for start, end in out[kind, : done[kind]]:
                log.add(int(start), int(end))

    def clipping(self) -> ChannelClipping:
        runs, samples, longest, positive = (int(value) for value in self.count[CLIPPED])
        return ChannelClipping(runs, samples, longest, positive, runs - positive)


class RunMeter:
    """Finds clipping and digital silence in one pass; `result()` gives both."""

    def __init__(self, rate_hz: int, channels: int) -> None:
        self._rate_hz = rate_hz
        self._channels = [_Channel(rate_hz, MOST_SPANS // channels) for _ in range(channels)]
        self._frames = 0

    def add(self, block: np.ndarray) -> None:
        for channel, samples in zip(self._channels, block, strict=True):
            channel.add(samples, self._frames)
        self._frames += block.shape[1]

    def result(self) -> tuple[Clipping, DigitalSilence]:
        for channel in self._channels:
            channel.end()
        return self._clipping(), self._silence()

    def _clipping(self) -> Clipping:
        channels = tuple(channel.clipping() for channel in self._channels)
        clipped = max(channel.clipped_samples for channel in channels)
        return Clipping(
            channels=channels,
            moments=sum(channel.logs[CLIPPED].count for channel in self._channels),
            share_percent=100.0 * clipped / max(1, self._frames),
            longest_run_s=max(channel.longest_run_frames for channel in channels) / self._rate_hz,
            spans=self._spans(CLIPPED),
            spans_merged_s=self._merged_s(CLIPPED),
        )

    def _silence(self) -> DigitalSilence:
        counts = [channel.count[SILENT] for channel in self._channels]
        return DigitalSilence(
            at_least_s=LEAST_SILENCE_S,
            count=sum(channel.logs[SILENT].count for channel in self._channels),
            longest_s=float(max(count[kernels.LONGEST] for count in counts)) / self._rate_hz,
            share_percent=tuple(100.0 * float(count[kernels.SAMPLES]) / max(1, self._frames) for count in counts),
            spans=self._spans(SILENT),
            spans_merged_s=self._merged_s(SILENT),
        )

    def _spans(self, kind: int) -> tuple[Span, ...]:
        rate = self._rate_hz
        found = [(span, n) for n, channel in enumerate(self._channels) for span in channel.logs[kind].spans]
        return tuple(Span(start / rate, end / rate, start, end, n) for (start, end), n in sorted(found))

    def _merged_s(self, kind: int) -> float:
        return max(channel.logs[kind].gap_frames for channel in self._channels) / self._rate_hz
