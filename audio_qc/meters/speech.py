"""Active speech level and activity factor to ITU-T P.56, method B; steps are numbered as in its description.

The envelope, whose two stages take 30 ms each, is followed from unit to unit of a millisecond, not from sample to
sample: on speech this changes the level by less than 0.01 dB.
"""

import math

import numpy as np

from audio_qc.facts.sound import ChannelSpeech
from audio_qc.kernels import units as kernels
from audio_qc.meters.decibel import power_db
from audio_qc.meters.units import Units, frames_per_unit

TIME_CONSTANT_S = 0.03
HANGOVER_S = 0.2
MARGIN_DB = 15.9
THRESHOLDS = 2.0 ** -np.arange(24.0, 0.0, -1.0)  # the recommendation's 15 are for 16 bits; these reach 24-bit noise
# Above this activity the pauses were counted as speech, because the background is within the margin of the voice.
MOST_ACTIVITY_PERCENT = 98.5
# A larger offset is counted as sound that never pauses.
MOST_OFFSET = 0.02


class SpeechMeter:
    """The envelope and the activity counts of every channel."""

    def __init__(self, rate_hz: int, channels: int) -> None:
        frames = frames_per_unit(rate_hz)
        self._g = math.exp(-frames / (rate_hz * TIME_CONSTANT_S))
        self._hangover = HANGOVER_S * rate_hz
        self._states = np.zeros((channels, 2))
        # Nothing counts before a threshold is first reached.
        self._hung = np.full((channels, len(THRESHOLDS)), np.inf)
        self._active = np.zeros((channels, len(THRESHOLDS)))
        self._squares = np.zeros(channels)
        self._totals = np.zeros(channels)
        self._frames = 0

    def add_units(self, units: Units) -> None:
        """Take the next units."""
        self._frames += units.frames * units.squares.shape[1]
        self._squares += units.squares.sum(axis=1)
        self._totals += units.totals.sum(axis=1)
        means = units.absolutes / units.frames
        for row, state, hung, active in zip(means, self._states, self._hung, self._active, strict=True):
            kernels.follow_activity(row, self._g, float(units.frames), self._hangover, THRESHOLDS, state, hung, active)

    def result(self) -> tuple[ChannelSpeech, ...]:
        """Return level and activity per channel."""
        return tuple(self._channel(channel) for channel in range(len(self._squares)))

    def _channel(self, channel: int) -> ChannelSpeech:
        level = self._active_level(channel)
        if level is None:
            return ChannelSpeech(None, None, is_reliable=False, reason="Nothing in the channel is as loud as speech.")
        long_term = power_db(float(self._squares[channel]) / self._frames)
        assert long_term is not None, "a channel with an active level has power"
        activity = min(100.0, 100.0 * 10.0 ** ((long_term - level) / 10.0))
        doubt = self._doubt(channel, activity)
        return ChannelSpeech(level, activity, is_reliable=not doubt, reason=doubt)

    def _doubt(self, channel: int, activity_percent: float) -> str:
        if activity_percent > MOST_ACTIVITY_PERCENT:
            return "The sound hardly ever pauses, or its background is too loud to be told from speech."
        if abs(self._totals[channel]) > MOST_OFFSET * self._frames:
            return "The recorder's steady offset is counted as sound."
        return ""

    def _active_level(self, channel: int) -> float | None:
        """Find where the level of the active time stands the margin above the threshold; linear between thresholds."""
        reached = self._active[channel] > 0.0
        levels = 10.0 * np.log10(self._squares[channel] / self._active[channel][reached])
        over = levels - 20.0 * np.log10(THRESHOLDS[reached])
        below = np.flatnonzero(over <= MARGIN_DB)
        if not len(over) or not len(below) or below[0] == 0:
            return None
        upper = below[0]
        share = (over[upper - 1] - MARGIN_DB) / (over[upper - 1] - over[upper])
        return float(levels[upper - 1] + share * (levels[upper] - levels[upper - 1]))
