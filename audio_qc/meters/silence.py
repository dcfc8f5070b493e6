"""Long silences, and how the levels of a recording are spread."""

import numpy as np

from audio_qc.facts.faults import LongSilence, Span
from audio_qc.facts.sound import LevelHistogram
from audio_qc.meters.noise import Pauses
from audio_qc.meters.slices import SLICES_PER_SECOND, SliceMeter

LEAST_SILENCE_S = 30.0  # a recorder left running or a break taken: common practice, no source
INTERRUPTION_SLICES = SLICES_PER_SECOND // 4  # a chair or a door in the middle does not end a silence
MOST_SPANS = 100
HISTOGRAM_LOWEST_DB, HISTOGRAM_CLASSES = -100, 101


def long_silence(slices: SliceMeter, pauses: Pauses, rate_hz: int, frames: int) -> LongSilence:
    """Find where every channel stays at or below the level of its pauses, or is digital silence, for long."""
    levels = slices.levels()
    limits = [np.nan if limit is None else limit for limit in pauses.highest_db]
    if np.all(np.isnan(limits)):
        return LongSilence(LEAST_SILENCE_S, 0, 0.0, (), pauses.reasons[0])
    # A channel whose pauses are unknown is quiet only where it is digital silence.
    quiet = (levels <= np.array(limits)[:, np.newaxis]) | ~np.isfinite(levels)
    runs = [run for run in _runs(quiet.all(axis=0)) if (run[1] - run[0]) * slices.seconds_per_slice >= LEAST_SILENCE_S]
    spans = [_span(start, stop, slices, rate_hz, frames) for start, stop in runs]
    longest = max((span.end_s - span.start_s for span in spans), default=0.0)
    return LongSilence(LEAST_SILENCE_S, len(spans), longest, tuple(spans[:MOST_SPANS]), "")


def _runs(quiet: np.ndarray) -> list[tuple[int, int]]:
    """Return runs of quiet slices, joined over short interruptions."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], quiet, [False]))))
    runs: list[tuple[int, int]] = []
    for start, stop in edges.reshape(-1, 2).tolist():
        if runs and start - runs[-1][1] <= INTERRUPTION_SLICES:
            runs[-1] = (runs[-1][0], stop)
        else:
            runs.append((start, stop))
    return runs


def _span(start: int, stop: int, slices: SliceMeter, rate_hz: int, frames: int) -> Span:
    first, last = start * slices.frames_per_slice, min(frames, stop * slices.frames_per_slice)
    return Span(first / rate_hz, last / rate_hz, first, last, None)


def level_histogram(slices: SliceMeter) -> LevelHistogram:
    """Count the slices of the channel with the highest average level."""
    levels = slices.levels()
    powers = np.where(np.isfinite(levels), 10.0 ** (levels / 10.0), 0.0).sum(axis=1)
    loudest = levels[int(np.argmax(powers))]
    sounding = loudest[np.isfinite(loudest)]
    places = np.clip(np.floor(sounding).astype(int) - HISTOGRAM_LOWEST_DB, 0, HISTOGRAM_CLASSES - 1)
    share = 100.0 * np.bincount(places, minlength=HISTOGRAM_CLASSES) / max(1, len(loudest))
    silent = 100.0 * (len(loudest) - len(sounding)) / max(1, len(loudest))
    return LevelHistogram(HISTOGRAM_LOWEST_DB, tuple(round(float(value), 3) for value in share), round(silent, 3))
