"""Sums up a recording in units of about a millisecond, so that most meters never see single samples."""

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from audio_qc.kernels import units as kernels

UNITS_PER_SECOND = 1000
HANDED_ON = 8_192  # units, at most, that meters are given together: few enough to stay small, many enough to be quick


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
        """Take the next units; their arrays are used again afterwards, so nothing of them may be kept."""


class UnitStage:
    """Turns blocks into units and hands them to the meters that work on them."""

    def __init__(self, rate_hz: int, channels: int, meters: tuple[UnitMeter, ...]) -> None:
        self._frames = frames_per_unit(rate_hz)
        self._meters = meters
        self._state = np.tile(kernels.FRESH, (channels, 1))
        self._filled = 0
        self._sums = np.empty((channels, 5, HANDED_ON))
        self._waiting = 0

    def add(self, block: np.ndarray) -> None:
        """Take the next block, shape (channels, frames)."""
        taken = 0
        while taken < block.shape[1]:
            room = (HANDED_ON - self._waiting) * self._frames - self._filled
            part = block[:, taken : taken + room]
            for samples, state, sums in zip(part, self._state, self._sums, strict=True):
                kernels.add_units(samples, self._frames, self._filled, state, sums[:, self._waiting :])
            self._waiting += (self._filled + part.shape[1]) // self._frames
            self._filled = (self._filled + part.shape[1]) % self._frames
            taken += part.shape[1]
            if self._waiting == HANDED_ON:
                self._hand_on()

    def finish(self) -> None:
        """Hand on what waits, and the unit that the end cut short; called once, before any result is asked for."""
        if self._waiting:
            self._hand_on()
        if self._filled:
            self._give(Units(self._filled, *self._state.T[:, :, np.newaxis]))

    def _hand_on(self) -> None:
        self._give(Units(self._frames, *(self._sums[:, row, : self._waiting] for row in range(5))))
        self._waiting = 0

    def _give(self, units: Units) -> None:
        for meter in self._meters:
            meter.add_units(units)
