"""Sample peak, RMS, crest factor and DC offset of each channel."""

import math

import numpy as np

from audio_qc import kernels
from audio_qc.measurement import ChannelLevel
from audio_qc.meters.decibel import amplitude_db, power_db


class LevelMeter:
    """Plain sums over every sample; also the source of each channel's mean and power for the channel comparison."""

    def __init__(self, channels: int) -> None:
        self.frames = 0
        self.totals = np.zeros(channels)
        self.squares = np.zeros(channels)
        self._peaks = np.zeros(channels)

    def add(self, block: np.ndarray) -> None:
        for channel, samples in enumerate(block):
            total, squares = kernels.channel_sums(samples)
            self.totals[channel] += total
            self.squares[channel] += squares
            self._peaks[channel] = max(self._peaks[channel], kernels.absolute_peaks(samples, len(samples))[0])
        self.frames += block.shape[1]

    def result(self) -> tuple[ChannelLevel, ...]:
        return tuple(self._channel(channel) for channel in range(len(self._peaks)))

    def mean(self, channel: int) -> float:
        """Return the mean sample, 0 for a recording without frames."""
        return float(self.totals[channel]) / max(1, self.frames)

    def power_without_dc(self, channel: int) -> float:
        """Return the variance; what rounding alone could leave of a constant signal counts as 0."""
        power = float(self.squares[channel]) / max(1, self.frames)
        variance = power - self.mean(channel) ** 2
        return variance if variance > 1e-12 * power else 0.0

    def _channel(self, channel: int) -> ChannelLevel:
        power = float(self.squares[channel]) / max(1, self.frames)
        peak = float(self._peaks[channel])
        return ChannelLevel(
            sample_peak_dbfs=amplitude_db(peak),
            rms_dbfs=power_db(power),
            rms_without_dc_dbfs=power_db(self.power_without_dc(channel)),
            crest_factor_db=amplitude_db(peak / math.sqrt(power)) if power > 0.0 else None,
            dc_offset_percent=100.0 * self.mean(channel),
            reason="" if peak > 0.0 else "The channel is digital silence.",
        )
