"""Noise floor: the level in the pauses."""

import math

import numpy as np

from audio_qc import kernels
from audio_qc.measurement import NoiseFloor

FRAMES_PER_SECOND = 20  # 50 ms, the window of the trough level that general sound tools give
PERCENTILE = 10.0  # speech leaves at least a tenth of the time to pauses: common practice, no source
LEAST_FRAMES = 40  # two seconds of sound
LEAST_RANGE_DB = 6.0  # a signal that hardly changes has no pauses to measure
SILENT_RUN_S = 0.010  # exact zeros this long inside a frame are made by a machine, not by a room
LOWEST_DB, HIGHEST_DB, STEP_DB = -200.0, 140.0, 0.02


class NoiseFloorMeter:
    """A histogram of frame levels per channel, of fixed size whatever the length."""

    def __init__(self, rate_hz: int, channels: int) -> None:
        self._rate_hz = rate_hz
        self._silent_run = max(2, round(SILENT_RUN_S * rate_hz))
        self._state = np.zeros((channels, 4))
        self._counts = np.zeros((channels, round((HIGHEST_DB - LOWEST_DB) / STEP_DB)), dtype=np.int64)
        self._silent = np.zeros(channels, dtype=np.int64)
        self._first = 0

    def add(self, block: np.ndarray) -> None:
        out = np.empty(block.shape[1] * FRAMES_PER_SECOND // self._rate_hz + 2)
        for channel, samples in enumerate(block):
            done = kernels.frame_levels(
                samples, self._state[channel], self._first, self._rate_hz, FRAMES_PER_SECOND, self._silent_run, out
            )
            self._count(channel, out[:done])
        self._first += block.shape[1]

    def result(self) -> NoiseFloor:
        levels, reasons = zip(*(self._channel(channel) for channel in range(len(self._counts))), strict=True)
        known = [level for level in levels if level is not None]
        highest = max(known) if known else None
        return NoiseFloor(highest_dbfs=highest, channels_dbfs=levels, reason=reasons[0] if highest is None else "")

    def _count(self, channel: int, variances: np.ndarray) -> None:
        sounding = variances[variances > 0.0]
        self._silent[channel] += len(variances) - len(sounding)
        places = (10.0 * np.log10(sounding) - LOWEST_DB) / STEP_DB
        np.add.at(self._counts[channel], np.clip(places, 0, self._counts.shape[1] - 1).astype(np.int64), 1)

    def _channel(self, channel: int) -> tuple[float | None, str]:
        frames, silent = int(self._counts[channel].sum()), int(self._silent[channel])
        if silent > frames:
            return None, "Most of the recording is digital silence, so there are no natural pauses to measure."
        if frames < LEAST_FRAMES:
            return None, "The recording has less than two seconds of sound."
        floor, loud = self._percentile(channel, PERCENTILE), self._percentile(channel, 100.0 - PERCENTILE)
        if loud - floor < LEAST_RANGE_DB:
            return None, "The level hardly changes, so there are no pauses to measure."
        return floor, ""

    def _percentile(self, channel: int, percent: float) -> float:
        below = np.cumsum(self._counts[channel])
        place = int(np.searchsorted(below, max(1, math.ceil(below[-1] * percent / 100.0))))
        return LOWEST_DB + (place + 0.5) * STEP_DB
