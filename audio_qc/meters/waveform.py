"""The outline of the recording for drawing."""

import numpy as np

from audio_qc import kernels
from audio_qc.measurement import Waveform

MOST_BINS = 4_000
STEPS = 127  # an outline in signed bytes


class WaveformMeter:
    """Lowest and highest sample per bin; bins double in width whenever 4000 are full, so no length is needed before."""

    def __init__(self, channels: int) -> None:
        self._frames_per_bin = 1
        self._frames = 0
        self._low = np.full((channels, MOST_BINS), np.inf)
        self._high = np.full((channels, MOST_BINS), -np.inf)

    def add(self, block: np.ndarray) -> None:
        while self._frames + block.shape[1] > MOST_BINS * self._frames_per_bin:
            self._widen()
        for channel, samples in enumerate(block):
            kernels.outline(samples, self._frames, self._frames_per_bin, self._low[channel], self._high[channel])
        self._frames += block.shape[1]

    def result(self) -> Waveform:
        bins = -(-self._frames // self._frames_per_bin)
        both = np.stack((self._low[:, :bins], self._high[:, :bins]), axis=2).reshape(len(self._low), -1)
        peaks = np.clip(np.rint(both * STEPS), -STEPS, STEPS).astype(int)
        return Waveform(self._frames_per_bin, tuple(tuple(channel) for channel in peaks.tolist()))

    def _widen(self) -> None:
        self._frames_per_bin *= 2
        half = MOST_BINS // 2
        self._low[:, :half] = self._low.reshape(len(self._low), half, 2).min(axis=2)
        self._high[:, :half] = self._high.reshape(len(self._high), half, 2).max(axis=2)
        self._low[:, half:], self._high[:, half:] = np.inf, -np.inf
