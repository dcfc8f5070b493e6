"""Interpolation of a stream at a whole multiple of its rate, by a Kaiser-windowed sinc."""

import numpy as np

HALF_TAPS = 32
KAISER_BETA = 6.0  # about 60 dB of stop band; flat to 0.46 of the sample rate with 64 taps


def sinc_phases(factor: int) -> np.ndarray:
    """Return the filter, shape (factor, 64): row p is for p/factor of a sample after tap 31, row 0 for tap 31."""
    taps = np.arange(2 * HALF_TAPS)
    distance = HALF_TAPS - 1 + np.arange(factor)[:, np.newaxis] / factor - taps
    window = np.i0(KAISER_BETA * np.sqrt(np.maximum(0.0, 1.0 - (distance / HALF_TAPS) ** 2))) / np.i0(KAISER_BETA)
    rows = np.sinc(distance) * window
    return np.asarray(rows / rows.sum(axis=1, keepdims=True))


class Overlap:
    """Joins each block of one channel to the samples before it that a 64-tap filter still needs.

    The stream is taken as silent before its beginning and after its end, so every sample has one output.
    """

    def __init__(self) -> None:
        self._tail = np.zeros(HALF_TAPS - 1)
        self.outputs = 0

    def joined(self, samples: np.ndarray) -> np.ndarray:
        """Return history and new samples in one array; output n of it is centred on tap 31 from n."""
        whole = np.concatenate((self._tail, samples))
        self._tail = whole[max(0, len(whole) - 2 * HALF_TAPS + 1) :].copy()
        return whole

    def pieces(self, samples: np.ndarray) -> tuple[np.ndarray, ...]:
        """Return what `joined` does in two pieces, of which the long one is not copied."""
        history = 2 * HALF_TAPS - 1
        if len(samples) <= history:
            return (self.joined(samples),)
        seam = self.joined(samples[:history])
        self._tail = samples[-history:].copy()
        return seam, samples

    def ending(self) -> np.ndarray:
        """Return what makes the last outputs."""
        return self.joined(np.zeros(HALF_TAPS))
