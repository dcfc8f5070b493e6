"""Dropouts, and digital silence: still runs of samples, and jumps between samples."""

import numpy as np

from audio_qc.facts.faults import DigitalSilence, Dropouts
from audio_qc.kernels import samples as kernels
from audio_qc.kernels.samples import FADED_GAP, NO_GAP, SUDDEN_GAP
from audio_qc.meters.spans import SpanLog, joined, merged_s, spans_of
from audio_qc.meters.stretches import UNITS_PER_SECOND, Stretch

LEAST_SILENCE_S = 0.1

# A gap is a run of equal samples inside sound; the lengths follow Mühlbauer, "Automatic Audio Defect Detection" (JKU
# Linz 2010), the levels were chosen on one half of the recordings of tests/audio_qc/rates.
LEAST_GAP_UNITS = 2  # a millisecond
NEAR_UNITS, WIDE_UNITS = 6, 40  # 3 and 20 ms of sound on each side
LEAST_NEAR, LEAST_WIDE = 0.003, 0.005  # half peak to peak: -50 and -46 dBFS
# Coarse samples (8 bits, mu-law) stand still by nature: sound is that many times their smallest step.
NEAR_STEPS, WIDE_STEPS, JUMP_STEPS = 16.0, 100.0, 8.0
# Out of a held sample the sound jumps: mu-law's steps are up to 1/16 of the value, and it may take two at once.
JUMP_SHARE, JUMP_NEAR = 0.15, 0.08  # of the held value, and of the sound near it
LEAST_FADED_S, LONGEST_GAP_S = 0.003, 3.5
# A faded gap looks like a pause whose noise is below one step of 16 bits, or is gated; then most pauses are zeros, and
# they are digital silence, not dropouts.
MOST_ZERO_RUNS, MOST_ZERO_RUNS_PER_S = 3, 1 / 60

# A jump: where samples are lost, the fourth difference stands out of all within 22 ms on both sides, in which a voice
# repeats its own more than once; a bend without a jump (a tone switched on at zero) has half of it beside its largest.
JUMP_UNITS = 44
LEAST_DIFFERENCE = 0.01  # a jump of -50 dBFS, times three
DIFFERENCE_TIMES = 6.0
LEAST_SOUND = 0.005  # -46 dBFS on both sides, within 5 ms
LEAST_TWIN = 0.6
JUMP_VALUE = float("inf")  # stands for the value of a run where there is none
SAME_DROPOUT_S = 0.010  # so near, two are listed as one


class Still:
    """Gaps, jumps and digital silence of one channel."""

    def __init__(self, rate_hz: int, most_spans: int) -> None:
        self._rate_hz = rate_hz
        self._limits = np.array([
            LEAST_NEAR, NEAR_STEPS, LEAST_WIDE, WIDE_STEPS, JUMP_STEPS, JUMP_SHARE, JUMP_NEAR,
            LEAST_FADED_S * rate_hz, LONGEST_GAP_S * rate_hz,
        ])  # fmt: skip
        self._jump_limits = np.array([LEAST_DIFFERENCE, DIFFERENCE_TIMES, LEAST_SOUND, LEAST_TWIN])
        self._least = np.array([LEAST_GAP_UNITS * rate_hz // UNITS_PER_SECOND, LEAST_SILENCE_S * rate_hz])
        self._state = np.zeros(4)
        self._before = np.zeros(6)
        self.zeros, self.longest_zeros = 0, 0
        self.silences = SpanLog(most_spans, LEAST_SILENCE_S * rate_hz)
        self.dropouts = SpanLog(most_spans, SAME_DROPOUT_S * rate_hz)
        self._faded = SpanLog(most_spans, SAME_DROPOUT_S * rate_hz)
        self._most_spans = most_spans
        self.silent_gaps, self.held_gaps, self.jumps = 0, 0, 0
        self.longest_gap, self._longest_faded = 0, 0

    def add(self, s: Stretch) -> None:
        """Take what one stretch shows, in order of time."""
        found = sorted([(start, end, value, gap) for start, end, value, gap in self._runs(s)] + self._jumps(s))
        for start, end, value, gap in found:
            self._take(max(0, int(start)), int(end), value, int(gap))

    def finish(self, frames: int) -> None:
        """Close the silence that the end of the recording cut off, and decide on the faded gaps."""
        is_open, run_start, value, zero_runs = self._state
        start = max(0, int(run_start))
        if is_open and value == 0.0 and frames - start >= self._least[1]:
            self._silence(start, frames)
        if self._faded.count and zero_runs <= MOST_ZERO_RUNS + MOST_ZERO_RUNS_PER_S * frames / self._rate_hz:
            self.silent_gaps += self._faded.count
            self.longest_gap = max(self.longest_gap, self._longest_faded)
            self.dropouts = joined((self.dropouts, self._faded), self._most_spans)

    def _runs(self, s: Stretch) -> np.ndarray:
        out = np.empty(((s.end - s.begin) // LEAST_GAP_UNITS + 2, 4))
        windows = np.array([NEAR_UNITS, WIDE_UNITS]) * s.unit
        done = kernels.still_runs(
            s.x, s.unit, s.begin, s.end, s.first, s.highs, s.lows, windows, self._least, self._limits,
            self._state, self._before, out,
        )  # fmt: skip
        return out[:done]

    def _jumps(self, s: Stretch) -> list[tuple[float, float, float, float]]:
        out = np.empty(s.end - s.begin)
        done = kernels.jumps(
            s.x, s.unit, s.begin, s.end, s.first, s.highs, s.lows, s.bend, s.bends, JUMP_UNITS, self._jump_limits, out
        )
        return [(frame, frame + 1.0, JUMP_VALUE, float(SUDDEN_GAP)) for frame in out[:done]]

    def _take(self, start: int, end: int, value: float, gap: int) -> None:
        if value == 0.0 and end - start >= self._least[1]:
            self._silence(start, end)
        if gap == FADED_GAP:
            self._faded.add(start, end)
            self._longest_faded = max(self._longest_faded, end - start)
        elif gap != NO_GAP:
            self.dropouts.add(start, end)
            self._count(value, end - start)

    def _count(self, value: float, frames: int) -> None:
        if value == JUMP_VALUE:
            self.jumps += 1
            return
        self.longest_gap = max(self.longest_gap, frames)
        if value == 0.0:
            self.silent_gaps += 1
        else:
            self.held_gaps += 1

    def _silence(self, start: int, end: int) -> None:
        self.zeros += end - start
        self.longest_zeros = max(self.longest_zeros, end - start)
        self.silences.add(start, end)


def dropout_facts(channels: list[Still], rate_hz: int) -> Dropouts:
    """Return the facts of all channels."""
    logs = [channel.dropouts for channel in channels]
    return Dropouts(
        count=sum(log.count for log in logs),
        silent_gaps=sum(channel.silent_gaps for channel in channels),
        held_gaps=sum(channel.held_gaps for channel in channels),
        jumps=sum(channel.jumps for channel in channels),
        longest_gap_s=max(channel.longest_gap for channel in channels) / rate_hz,
        spans=spans_of(logs, rate_hz),
        spans_merged_s=merged_s(logs, rate_hz),
    )


def silence_facts(channels: list[Still], frames: int, rate_hz: int) -> DigitalSilence:
    """Return the facts of all channels; a gap that is also a dropout is among them."""
    logs = [channel.silences for channel in channels]
    return DigitalSilence(
        at_least_s=LEAST_SILENCE_S,
        count=sum(log.count for log in logs),
        longest_s=max(channel.longest_zeros for channel in channels) / rate_hz,
        share_percent=tuple(100.0 * channel.zeros / max(1, frames) for channel in channels),
        spans=spans_of(logs, rate_hz),
        spans_merged_s=merged_s(logs, rate_hz),
    )
