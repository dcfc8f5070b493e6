"""Brings each channel down to about 2 kHz, where hum and rumble live: one output where dozens of samples were."""

import numpy as np

TARGET_RATE_HZ = 2_000
ORDER = 4


class Decimator:
    """Keeps every n-th output of a low-pass filter, n a whole number; says the same however blocks are cut.

    The taps are a B-spline, ORDER boxes of one output's length convolved: its gain is zero at every multiple of the new
    rate, which is what would fold onto the lowest frequencies (what folds below 300 Hz is down by about 60 dB), and
    known exactly elsewhere. Each output covers ORDER segments of `factor` samples; every segment is read once,
    weighted in ORDER ways by one matrix product, which is the fastest loop over samples that there is.
    """

    def __init__(self, rate_hz: int, channels: int) -> None:
        self.factor = factor_for(rate_hz)
        self.rate_hz = rate_hz / self.factor
        taps = np.zeros(ORDER * self.factor)
        taps[: ORDER * (self.factor - 1) + 1] = bspline(self.factor)
        self._weights = np.ascontiguousarray(taps.reshape(ORDER, self.factor).T)
        self._rest = np.zeros((channels, 0))  # frames of an unfinished segment
        self._parts = np.zeros((channels, 0, ORDER))  # the segments that unfinished outputs have

    def add(self, block: np.ndarray) -> np.ndarray:
        """Return the outputs that this block completes, shape (channels, outputs)."""
        missing = -self._rest.shape[1] % self.factor
        seam = np.concatenate((self._rest, block[:, :missing]), axis=1)
        if block.shape[1] < missing:
            self._rest = seam
            return np.zeros((len(block), 0))
        frames = (block.shape[1] - missing) // self.factor * self.factor
        parts = (self._parts, self._weighted(seam), self._weighted(block[:, missing : missing + frames]))
        self._rest = block[:, missing + frames :].copy()
        return self._finished(np.concatenate(parts, axis=1))

    def first_frame(self, output: int) -> int:
        """Return the frame of the recording on which an output is centred."""
        return output * self.factor + ORDER * (self.factor - 1) // 2

    def _weighted(self, frames: np.ndarray) -> np.ndarray:
        segments = frames.reshape(len(frames), frames.shape[1] // self.factor, self.factor)
        return np.asarray(segments @ self._weights)

    def _finished(self, parts: np.ndarray) -> np.ndarray:
        count = max(0, parts.shape[1] - ORDER + 1)
        self._parts = parts[:, count:].copy()
        return np.asarray(sum(parts[:, part : part + count, part] for part in range(ORDER)))


def factor_for(rate_hz: int) -> int:
    """Return the whole number of samples that become one."""
    return max(1, round(rate_hz / TARGET_RATE_HZ))


def bspline(factor: int) -> np.ndarray:
    """Return the taps: ORDER boxes of `factor` samples convolved, with a sum of 1."""
    taps = np.ones(1)
    for _ in range(ORDER):
        taps = np.convolve(taps, np.full(factor, 1.0 / factor))
    return taps


def power_gain(frequencies_hz: np.ndarray, rate_hz: int) -> np.ndarray:
    """Return the share of its power that a tone keeps when it is brought down from `rate_hz`."""
    # The gain of a box of `factor` samples is a Dirichlet kernel.
    gain = np.sinc(frequencies_hz * factor_for(rate_hz) / rate_hz) / np.sinc(frequencies_hz / rate_hz)
    return np.asarray(gain ** (2 * ORDER))
