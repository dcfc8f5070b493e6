"""Clipping: runs of equal samples at full scale, and flat tops at a ceiling anywhere below it."""

import math
from dataclasses import dataclass

import numpy as np

from audio_qc.facts.faults import ChannelClipping, ChannelFlatTops, Clipping, FlatTops
from audio_qc.kernels import samples as kernels
from audio_qc.kernels.samples import COUNT, FLANK_SQUARES, FLANKS, SQUARES, WIDEST, WIDTHS
from audio_qc.meters.spans import SpanLog, joined, merged_s, spans_of
from audio_qc.meters.stretches import Stretch

# Near full scale: mu-law's largest value is 32124/32768, 0.17 dB below; recorders also stop a few steps short.
RAIL = 0.98
# Three equal samples at the top are an "over" by the usual rule of converters' indicators: common practice, no source.
LEAST_CLIPPED_FRAMES = 3
MOMENT_S = 0.25  # clipped runs closer than this are heard as one event

# Flat tops. The amplitude histogram of unclipped speech thins out towards its end, clipping piles up there (Aleinik et
# al. 2014; Eaton and Naylor, EUSIPCO 2013, for clipping that was attenuated later). The figures below were chosen on
# one half of the recordings of tests/audio_qc/rates, and are no one's standard.
FLOOR = 0.01  # -40 dBFS: below, steps of 16 bits blur what is flat
SHARES = np.array([0.99, 0.8])  # of a peak: its top, and where its flanks are
NEAR_CEILING = 1.03  # located are the peaks within 0.26 dB of the highest
BINS_PER_DB, LOWEST_DB, HIGHEST_DB = 20, -60, 20
WINDOWS_DB = (0.1, 0.3)  # a digital ceiling is sharp, an analogue one is not
REFERENCE_DB = 5.0  # tops are compared with those so far below the pile-up
LEAST_REFERENCE = 10
# A swelling tone also piles up at its loudest, by a factor of three over the three windows below (the arcsine law).
PILE_TIMES, PILE_MORE = 4.0, 4.0
# ...but its tops are no longer there than elsewhere. Five standard errors, and a tenth.
WIDER_ERRORS, WIDER_TIMES = 5.0, 1.1
LEAST_WIDTH_SPREAD = 0.3  # samples: what cutting a top into samples spreads by itself
# A beep or a synthetic vowel is the loudest and its peaks are all alike; those of a voice differ. Of peaks all alike
# only a shape that no smooth peak has is believed: a cosine spends this much of its flanks' time above its top share.
LEAST_VARIETY = 0.15  # standard deviation over mean of the flanks' lengths
COSINE_TOP = math.acos(float(SHARES[0])) / math.acos(float(SHARES[1]))
LONGER_BY = 1.5  # samples


@dataclass(frozen=True)
class Ceiling:
    """Where one polarity's peaks pile up with flat tops."""

    level: float
    tops: int
    samples: int
    longest_frames: int


class FullScale:
    """Runs at full scale in one channel."""

    def __init__(self, rate_hz: int, most_spans: int) -> None:
        self._gap = MOMENT_S * rate_hz
        self._state = np.array([0.0, 0.0, 0.0, 0.0, -1.0])
        self.total = np.zeros(4)
        self.log = SpanLog(most_spans, self._gap)

    def add(self, s: Stretch) -> None:
        out = np.empty((s.unit * (s.end - s.begin) // LEAST_CLIPPED_FRAMES + 2, 2))
        done = kernels.clipped_runs(
            s.x, s.unit, s.begin, s.end, s.first, s.highs, s.lows, RAIL, LEAST_CLIPPED_FRAMES, self._gap,
            self._state, self.total, out,
        )  # fmt: skip
        for start, end in out[:done]:
            self.log.add(int(start), int(end))

    def finish(self) -> None:
        """Close what the end of the recording left open."""
        start, end = self._state[kernels.GROUP_START :]
        if end >= 0.0:
            self.log.add(int(start), int(end))

    def facts(self) -> ChannelClipping:
        runs, samples, longest, positive = (int(value) for value in self.total)
        return ChannelClipping(runs, samples, longest, positive, runs - positive)


class _Polarity:
    """The histogram and the highest peaks of one channel's one polarity."""

    def __init__(self, sign: float, rate_hz: int, most_spans: int) -> None:
        self._sign = sign
        self._gap = MOMENT_S * rate_hz
        self._bins = np.array([BINS_PER_DB * 20.0 / math.log(10.0), -float(LOWEST_DB * BINS_PER_DB)])
        self._state = np.array([0.0, 0.0, -1.0])
        self.histogram = np.zeros(((HIGHEST_DB - LOWEST_DB) * BINS_PER_DB, 6))
        self.log = SpanLog(most_spans, self._gap)

    def add(self, s: Stretch) -> None:
        out = np.empty((s.end - s.begin + 1, 2))
        done, cleared = kernels.peaks(
            s.x, s.unit, s.begin, s.end, s.first, s.highs if self._sign > 0 else s.lows, self._sign, FLOOR,
            self._bins, SHARES, NEAR_CEILING, self._gap, self.histogram, self._state, out,
        )  # fmt: skip
        if cleared:
            self.log.clear()
        for start, end in out[:done]:
            self.log.add(int(start), int(end))

    def finish(self) -> None:
        start, end = self._state[kernels.TOP_START :]
        if end >= 0.0:
            self.log.add(int(start), int(end))


class FlatTopped:
    """Peaks of both polarities of one channel: a preamplifier may clip one of them only."""

    def __init__(self, rate_hz: int, most_spans: int) -> None:
        self._polarities = [_Polarity(sign, rate_hz, most_spans) for sign in (1.0, -1.0)]
        self._most_spans = most_spans

    def add(self, s: Stretch) -> None:
        for polarity in self._polarities:
            polarity.add(s)

    def finish(self, clipped: bool) -> None:
        """Look for ceilings; one at full scale where runs are `clipped` is not told again."""
        self.ceilings = [ceiling(polarity.histogram) for polarity in self._polarities]
        for n, (polarity, found) in enumerate(zip(self._polarities, self.ceilings, strict=True)):
            polarity.finish()
            if found is None or (clipped and found.level >= RAIL):
                self.ceilings[n] = None
                polarity.log.clear()
        logs = [polarity.log for polarity in self._polarities]
        self.log = joined(logs, self._most_spans)
        self.moments = max(log.count for log in logs)  # most moments squash both polarities

    def facts(self) -> ChannelFlatTops:
        above, below = self.ceilings
        found = [one for one in self.ceilings if one]
        return ChannelFlatTops(
            level_dbfs=20.0 * math.log10(max(one.level for one in found)) if found else None,
            positive_tops=above.tops if above else 0,
            negative_tops=below.tops if below else 0,
            flat_samples=sum(one.samples for one in found),
            longest_frames=max((one.longest_frames for one in found), default=0),
        )


def ceiling(histogram: np.ndarray) -> Ceiling | None:
    """Return where peaks pile up at the end of a histogram with longer tops than those below, None if they do not."""
    peaks = histogram[:, COUNT]
    if not peaks.any():
        return None
    top = int(np.flatnonzero(peaks)[-1]) + 1
    for width_db in WINDOWS_DB:
        width = round(width_db * BINS_PER_DB)
        at = histogram[max(0, top - width) : top].sum(axis=0)
        longer = _longer(at, _reference(histogram, top - width))
        if longer and _piled_up(peaks, top, width) and (_varied(at) or _flat(at)):
            widest = histogram[max(0, top - width) : top, WIDEST].max()
            level = 10.0 ** ((top / BINS_PER_DB + LOWEST_DB) / 20.0)
            return Ceiling(level, int(at[COUNT]), int(at[WIDTHS]), int(widest))
    return None


def _piled_up(peaks: np.ndarray, top: int, width: int) -> bool:
    if _coarse(peaks, top):
        peaks, width = peaks[:top][peaks[:top] > 0], 1
        top = len(peaks)
    here = peaks[max(0, top - width) : top].sum()
    below = peaks[max(0, top - 4 * width) : max(0, top - width)].sum() / 3.0
    return bool(here >= PILE_TIMES * below + PILE_MORE)


def _coarse(peaks: np.ndarray, top: int) -> bool:
    """Tell whether samples of few steps (8 bits, mu-law) leave most bins empty: only whole steps can be compared."""
    bins = 3 * BINS_PER_DB
    last = peaks[max(0, top - bins) : top]
    expected = bins * (1.0 - math.exp(-last.sum() / bins))
    return bool(np.count_nonzero(last) < 0.5 * expected)


def _reference(histogram: np.ndarray, top: int) -> np.ndarray:
    total: np.ndarray = histogram[max(0, top - round(REFERENCE_DB * BINS_PER_DB)) : max(0, top)].sum(axis=0)
    return total


def _longer(at: np.ndarray, reference: np.ndarray) -> bool:
    """Compare how long tops last with a two-sample test; without lower peaks (a steady tone) nothing is known."""
    if reference[COUNT] < LEAST_REFERENCE:
        return False
    mean, usual = at[WIDTHS] / at[COUNT], reference[WIDTHS] / reference[COUNT]
    variance = max(reference[SQUARES] / reference[COUNT] - usual**2, LEAST_WIDTH_SPREAD**2)
    error = math.sqrt(variance * (1.0 / at[COUNT] + 1.0 / reference[COUNT]))
    return bool(mean >= WIDER_TIMES * usual and mean - usual >= WIDER_ERRORS * error)


def _varied(at: np.ndarray) -> bool:
    mean = at[FLANKS] / at[COUNT]
    return bool(at[FLANK_SQUARES] / at[COUNT] - mean**2 >= (LEAST_VARIETY * mean) ** 2)


def _flat(at: np.ndarray) -> bool:
    return bool(at[WIDTHS] >= COSINE_TOP * at[FLANKS] + LONGER_BY * at[COUNT])


def clipping_facts(channels: list[FullScale], frames: int, rate_hz: int) -> Clipping:
    """Return the facts of all channels."""
    facts = tuple(channel.facts() for channel in channels)
    logs = [channel.log for channel in channels]
    return Clipping(
        channels=facts,
        moments=sum(log.count for log in logs),
        share_percent=100.0 * max(one.clipped_samples for one in facts) / max(1, frames),
        longest_run_s=max(one.longest_run_frames for one in facts) / rate_hz,
        spans=spans_of(logs, rate_hz),
        spans_merged_s=merged_s(logs, rate_hz),
    )


def flat_top_facts(channels: list[FlatTopped], frames: int, rate_hz: int) -> FlatTops:
    """Return the facts of all channels."""
    facts = tuple(channel.facts() for channel in channels)
    logs = [channel.log for channel in channels]
    return FlatTops(
        channels=facts,
        moments=sum(channel.moments for channel in channels),
        share_percent=100.0 * max(one.flat_samples for one in facts) / max(1, frames),
        longest_s=max(one.longest_frames for one in facts) / rate_hz,
        spans=spans_of(logs, rate_hz),
        spans_merged_s=merged_s(logs, rate_hz),
    )
