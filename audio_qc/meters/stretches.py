"""Cuts a recording into stretches of whole half-millisecond units, always at the same frames however it arrives."""

from collections.abc import Iterator

import numpy as np

from audio_qc.kernels import samples as kernels

UNITS_PER_SECOND = 2000
CONTEXT = 48  # units before and after those that are looked at: 24 ms
LOOKED_AT = 2048  # units in each stretch: about a second, small enough to stay in the processor's cache


class Stretch:
    """One channel's samples with the figures of their units; `begin` to `end` are the units to look at."""

    begin, end = CONTEXT, CONTEXT + LOOKED_AT

    def __init__(self, unit: int) -> None:
        units = 2 * CONTEXT + LOOKED_AT
        self.unit = unit
        self.first = -CONTEXT * unit  # the frame that x[0] is; what comes before the recording is silence
        self.x = np.zeros(units * unit, dtype=np.float32)
        self.bend = np.zeros(units * unit, dtype=np.float32)
        self.highs, self.lows, self.bends = (np.zeros(units, dtype=np.float32) for _ in range(3))
        self.filled = CONTEXT * unit

    def take(self, samples: np.ndarray) -> int:
        """Copy as many samples as fit; return how many did."""
        count = min(len(samples), len(self.x) - self.filled)
        kernels.to_float32(samples[:count], self.x[self.filled :])
        self.filled += count
        return count

    def measure(self, begin: int) -> None:
        """Find the figures of the units from `begin` on."""
        kernels.measure_units(self.x, self.unit, begin, self.bend, self.highs, self.lows, self.bends)

    def move_on(self) -> None:
        """Make room: the last units become the context before the next ones."""
        for kept in (self.x, self.bend):
            kept[: 2 * CONTEXT * self.unit] = kept[LOOKED_AT * self.unit :]
        for kept in (self.highs, self.lows, self.bends):
            kept[: 2 * CONTEXT] = kept[LOOKED_AT:]
        self.first += LOOKED_AT * self.unit
        self.filled = 2 * CONTEXT * self.unit


class Stretches:
    """Yields one channel's stretches as they fill; `last()` yields what is left, with silence after it."""

    def __init__(self, rate_hz: int) -> None:
        self._stretch = Stretch(max(2, rate_hz // UNITS_PER_SECOND))
        self._measured = CONTEXT

    def add(self, samples: np.ndarray) -> Iterator[Stretch]:
        """Take the next samples of the channel."""
        taken = 0
        while taken < len(samples):
            taken += self._stretch.take(samples[taken:])
            if self._stretch.filled == len(self._stretch.x):
                yield self._full()
                self._stretch.move_on()

    def last(self) -> Iterator[Stretch]:
        """Return the rest of the recording."""
        stretch, frames = self._stretch, self._stretch.first + self._stretch.filled
        while stretch.first + CONTEXT * stretch.unit <= frames:
            stretch.x[stretch.filled :] = 0.0
            yield self._full()
            stretch.move_on()

    def _full(self) -> Stretch:
        self._stretch.measure(self._measured)
        self._measured = 2 * CONTEXT
        return self._stretch
