"""Stretches in which one channel of several hears nothing, as when a microphone's battery ends half way."""

import numpy as np

from audio_qc.facts.faults import ChannelLoss, Span
from audio_qc.meters.decibel import power_db
from audio_qc.meters.slices import SLICES_PER_SECOND, SliceMeter

# In ten seconds of an interview somebody speaks, and a microphone hears a voice that is meant for another: common
# practice, no source.
WINDOW, HOP = 10 * SLICES_PER_SECOND, SLICES_PER_SECOND
LEAST_SLICES = 20 * SLICES_PER_SECOND
LEAST_BELOW = 10.0**-2.5  # 25 dB, in power
MOST_LOSSES = 100


def channel_losses(slices: SliceMeter, rate_hz: int, frames: int) -> tuple[ChannelLoss, ...]:
    """Find where all windows of ten seconds hold at least 25 dB less in one channel than in the loudest."""
    levels = slices.levels()
    powers = np.where(np.isfinite(levels), 10.0 ** (levels / 10.0), 0.0)
    sums = np.concatenate((np.zeros((len(powers), 1)), np.cumsum(powers, axis=1)), axis=1)
    windows = sums[:, WINDOW::HOP] - sums[:, : max(0, sums.shape[1] - WINDOW) : HOP]
    loudest = windows.max(axis=0)
    found = []
    for channel, below in enumerate((windows < LEAST_BELOW * loudest) & (loudest > 0.0)):
        for start, stop in _stretches(below):
            found.append(_loss(channel, sums[:, stop] - sums[:, start], start, stop, slices, rate_hz, frames))
    return tuple(found[:MOST_LOSSES])


def _stretches(below: np.ndarray) -> list[tuple[int, int]]:
    """Return the slices that runs of windows cover together, if they are many enough."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], below, [False])))).reshape(-1, 2)
    covered = [(int(first) * HOP, (int(last) - 1) * HOP + WINDOW) for first, last in edges]
    return [(start, stop) for start, stop in covered if stop - start >= LEAST_SLICES]


def _loss(
    channel: int, powers: np.ndarray, start: int, stop: int, slices: SliceMeter, rate_hz: int, frames: int
) -> ChannelLoss:  # fmt: skip
    first, last = start * slices.frames_per_slice, min(frames, stop * slices.frames_per_slice)
    level = power_db(float(powers[channel]) / (stop - start))
    loudest = power_db(float(powers.max()) / (stop - start))
    assert loudest is not None, "a channel is only below one that sounds"
    return ChannelLoss(
        span=Span(first / rate_hz, last / rate_hz, first, last, channel),
        level_dbfs=level,
        below_db=None if level is None else loudest - level,
    )
