"""The level of every slice of 50 ms, on which pauses, noise and long silences are judged."""

import numpy as np

from audio_qc.meters.units import Units, frames_per_unit

UNITS_PER_SLICE = 50  # 50 ms, the window of the trough level that general sound tools give
SLICES_PER_SECOND = 20
SILENT_UNITS = 10  # a hundredth of a second of exact zeros inside a slice is made by a machine, not by a room


class SliceMeter:
    """One level per channel and slice, in dBFS without DC; minus infinity where the slice holds digital silence."""

    def __init__(self, rate_hz: int, channels: int) -> None:
        self.frames_per_slice = UNITS_PER_SLICE * frames_per_unit(rate_hz)
        self.seconds_per_slice = self.frames_per_slice / rate_hz
        self.count = 0
        self._levels = np.empty((channels, 1024))
        self._rest = np.empty((3, channels, 0))

    def add_units(self, units: Units) -> None:
        """Take the next units; the last one of the recording, which may be shorter, finishes no slice of its own."""
        sums = np.concatenate((self._rest, (units.totals, units.squares, units.squares == 0.0)), axis=2)
        count = sums.shape[2] // UNITS_PER_SLICE
        kept = count * UNITS_PER_SLICE
        self._rest = sums[:, :, kept:].copy()
        self._append(self._level(*sums[:, :, :kept].reshape(*sums.shape[:2], count, UNITS_PER_SLICE).sum(axis=3)))

    def levels(self, start: int = 0, stop: int | None = None) -> np.ndarray:
        """Return the levels of slices `start` up to `stop`, of those known so far, shape (channels, slices)."""
        return self._levels[:, start : self.count if stop is None else min(stop, self.count)]

    def _append(self, levels: np.ndarray) -> None:
        count = self.count + levels.shape[1]
        if count > self._levels.shape[1]:
            self._levels = np.concatenate((self._levels, np.empty_like(self._levels), levels), axis=1)
        self._levels[:, self.count : count] = levels
        self.count = count

    def _level(self, totals: np.ndarray, squares: np.ndarray, silent: np.ndarray) -> np.ndarray:
        power = squares / self.frames_per_slice
        variance = power - (totals / self.frames_per_slice) ** 2
        # What rounding alone could leave of a constant signal counts as nothing.
        sounding = (silent < SILENT_UNITS) & (variance > 1e-12 * power)
        return np.where(sounding, 10.0 * np.log10(np.where(sounding, variance, 1.0)), -np.inf)


def highest_of_three(levels: np.ndarray) -> np.ndarray:
    """Return the highest level of each slice and its two neighbours, along the last axis; the ends have too few.

    Minus infinity where one of the three is digital silence.
    """
    before, itself, after = levels[..., :-2], levels[..., 1:-1], levels[..., 2:]
    sounding = np.isfinite(before) & np.isfinite(itself) & np.isfinite(after)
    highest = np.maximum(before, itself)
    np.maximum(highest, after, out=highest)
    highest[~sounding] = -np.inf
    return highest
