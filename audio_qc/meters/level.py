"""Sample peak, RMS, crest factor and DC offset of each channel."""

import math

import numpy as np

from audio_qc.facts.sound import ChannelLevel, Levels
from audio_qc.meters.decibel import amplitude_db, power_db
from audio_qc.meters.units import Units


class LevelMeter:
    """Plain sums over every sample; also the source of each channel's mean and power for the channel comparison."""

    def __init__(self, channels: int) -> None:
        self.frames = 0
        self._totals = np.zeros(channels)
        self._squares = np.zeros(channels)
        self._peaks = np.zeros(channels)

    def add_units(self, units: Units) -> None:
        self.frames += units.frames * units.totals.shape[1]
        self._totals += units.totals.sum(axis=1)
        self._squares += units.squares.sum(axis=1)
        self._peaks = np.maximum(self._peaks, np.maximum(units.highest, -units.lowest).max(axis=1))

    def result(self) -> Levels:
        """Return the figures of every channel; the highest peak may be of any."""
        return Levels(amplitude_db(float(self._peaks.max())), tuple(map(self._channel, range(len(self._peaks)))))

    def mean(self, channel: int) -> float:
        """Return the mean sample, 0 for a recording without frames."""
        return float(self._totals[channel]) / max(1, self.frames)

    def power_without_dc(self, channel: int) -> float:
        """Return the variance; what rounding alone could leave of a constant signal counts as 0."""
        power = float(self._squares[channel]) / max(1, self.frames)
        variance = power - self.mean(channel) ** 2
        return variance if variance > 1e-12 * power else 0.0

    def _channel(self, channel: int) -> ChannelLevel:
        power = float(self._squares[channel]) / max(1, self.frames)
        peak = float(self._peaks[channel])
        return ChannelLevel(
            peak_dbfs=amplitude_db(peak),
            rms_dbfs=power_db(power),
            rms_without_dc_dbfs=power_db(self.power_without_dc(channel)),
            crest_factor_db=amplitude_db(peak / math.sqrt(power)) if power > 0.0 else None,
            dc_offset_percent=100.0 * self.mean(channel),
            reason="" if peak > 0.0 else "The channel is digital silence.",
        )
