"""Sums up a recording in units of about a millisecond, so that most meters never see single samples."""

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from audio_qc.kernels import units as kernels

UNITS_PER_SECOND = 1000


def frames_per_unit(rate_hz: int) -> int:
    """Return the whole number of frames nearest to a millisecond."""
    return max(1, round(rate_hz / UNITS_PER_SECOND))


@dataclass(frozen=True)
class Units:
    """Neighbouring units of `frames` frames each, every array of shape (channels, units).

    Sums of samples, of squares and of absolute values; highest and lowest sample.
    """

    frames: int
    totals: np.ndarray
    squares: np.ndarray
    absolutes: np.ndarray
    highest: np.ndarray
    lowest: np.ndarray


class UnitMeter(Protocol):
    """A meter that is given units in the place of blocks."""

    def add_units(self, units: Units) -> None:
        """Take the next units."""


class UnitStage:
    """Turns blocks into units and hands them to the meters that work on them."""

    def __init__(self, rate_hz: int, channels: int, meters: tuple[UnitMeter, ...]) -> None:
        self._frames = frames_per_unit(rate_hz)
        self._meters = meters
        self._state = np.tile(kernels.FRESH, (channels, 1))
        self._filled = 0

    def add(self, block: np.ndarray) -> None:
        """Take the next block, shape (channels, frames)."""
        count = (self._filled + block.shape[1]) // self._frames
        out = np.empty((len(block), 5, count))
        for samples, state, sums in zip(block, self._state, out, strict=True):
            kernels.add_units(samples, self._frames, self._filled, state, sums)
        self._filled = (self._filled + block.shape[1]) % self._frames
        if count:
            self._hand_on(self._frames, out)

    def finish(self) -> None:
        """Hand on the unit that the end of the recording cut short; called once, before any result is asked for."""
        if self._filled:
            self._hand_on(self._filled, self._state[:, :, np.newaxis].copy())

    def _hand_on(self, frames: int, sums: np.ndarray) -> None:
        units = Units(frames, *(sums[:, row] for row in range(5)))
        for meter in self._meters:
            meter.add_units(units)
