"""The outline of the recording for drawing."""

import numpy as np

from audio_qc.facts.sound import Waveform
from audio_qc.meters.units import Units, frames_per_unit

MOST_BINS = 4_000
STEPS = 127  # an outline in signed bytes


class WaveformMeter:
    """Lowest and highest sample per bin; bins double in width whenever 4000 are full, so no length is needed before."""

    def __init__(self, rate_hz: int, channels: int) -> None:
        self._frames_per_unit = frames_per_unit(rate_hz)
        self._units_per_bin = 1
        self._units = 0
        self._low = np.full((channels, MOST_BINS), np.inf)
        self._high = np.full((channels, MOST_BINS), -np.inf)

    def add_units(self, units: Units) -> None:
        count = units.highest.shape[1]
        while self._units + count > MOST_BINS * self._units_per_bin:
            self._widen()
        bins = np.arange(self._units, self._units + count) // self._units_per_bin
        starts = np.flatnonzero(np.diff(bins, prepend=-1))
        touched = slice(int(bins[0]), int(bins[-1]) + 1)
        low, high = self._low[:, touched], self._high[:, touched]
        np.minimum(low, np.minimum.reduceat(units.lowest, starts, axis=1), out=low)
        np.maximum(high, np.maximum.reduceat(units.highest, starts, axis=1), out=high)
        self._units += count

    def result(self) -> Waveform:
        bins = -(-self._units // self._units_per_bin)
        both = np.stack((self._low[:, :bins], self._high[:, :bins]), axis=2).reshape(len(self._low), -1)
        peaks = np.clip(np.rint(both * STEPS), -STEPS, STEPS).astype(int)
        return Waveform(self._units_per_bin * self._frames_per_unit, tuple(map(tuple, peaks.tolist())))

    def _widen(self) -> None:
        self._units_per_bin *= 2
        half = MOST_BINS // 2
        self._low[:, :half] = self._low.reshape(len(self._low), half, 2).min(axis=2)
        self._high[:, :half] = self._high.reshape(len(self._high), half, 2).max(axis=2)
        self._low[:, half:], self._high[:, half:] = np.inf, -np.inf
