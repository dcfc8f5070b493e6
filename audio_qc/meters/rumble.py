"""Rumble and wind: bursts of sound below the voice."""

from dataclasses import dataclass

import numpy as np
from scipy import fft

from audio_qc.facts.faults import Rumble, RumbleBurst, Span
from audio_qc.meters.decibel import power_db
from audio_qc.meters.decimation import power_gain

FRAME, HOP = 512, 256  # about 0.26 s and 0.13 s at 2 kHz
RUMBLE_HZ = (12.0, 64.0)  # a Hann window of that length is 16 Hz wide each way, so no voice from 80 Hz on gets in
VOICE_HZ = (100.0, 900.0)
BURST_BELOW_VOICE_DB = 12.0  # clean speech stayed 15 dB or more below the voice in the recordings tuned on
BURST_OVER_STEADY_DB = 10.0
STEADY_PERCENTILE = 10.0  # of the low levels: what is always there, hum included, is no burst
GATE_DB = 10.0  # the relative gate of BS.1770 leaves the pauses out of the voice's level
JOINED_S = 1.0  # bursts closer than this are heard as one
MOST_BURSTS = 200  # over all channels; the strongest are kept
LEAST_FRAMES = 8
LOWEST_POWER = 1e-20  # -200 dBFS stands for digital silence


class LowFrames:
    """Low and voice power of every frame of one channel: 16 small numbers a second."""

    def __init__(self, rate_hz: float, gains_from_hz: int) -> None:
        hz = fft.rfftfreq(FRAME, 1.0 / rate_hz)
        self._shape = np.hanning(FRAME + 1)[:-1].astype(np.float32)
        scale = 2.0 / (FRAME * float((self._shape.astype(float) ** 2).sum())) / power_gain(hz, gains_from_hz)
        bands = [((low <= hz) & (hz <= high)) * scale for low, high in (RUMBLE_HZ, VOICE_HZ)]
        self._bands = np.array(bands, dtype=np.float32).T
        self._kept: list[np.ndarray] = []

    def add(self, samples: np.ndarray) -> None:
        """Take the next whole number of hops, after the one hop that was last before them."""
        frames = np.lib.stride_tricks.sliding_window_view(samples.astype(np.float32), FRAME)[::HOP]
        spectra = fft.rfft(frames * self._shape, axis=1)
        self._kept.append((spectra.real**2 + spectra.imag**2) @ self._bands)

    def powers(self) -> np.ndarray:
        """Return power in both bands, shape (frames, 2)."""
        return np.maximum(np.concatenate([np.zeros((0, 2)), *self._kept]), LOWEST_POWER)


@dataclass(frozen=True)
class _Channel:
    bursts: list[RumbleBurst]
    share_percent: float
    voice_dbfs: float | None


def rumble_in(powers: list[np.ndarray], frames_per_hop: int, rate_hz: int) -> Rumble:
    """Find the bursts in every channel's powers, shape (frames, 2), `frames_per_hop` recorded frames apart."""
    if len(powers[0]) < LEAST_FRAMES:
        return Rumble((), None, None, "Less than two seconds of sound to look for rumble in.")
    channels = [_channel(one, n, frames_per_hop, rate_hz) for n, one in enumerate(powers)]
    bursts = sorted((burst for one in channels for burst in one.bursts), key=lambda burst: burst.over_voice_db)
    listed = bursts[-MOST_BURSTS:]
    loudest = channels[bursts[-1].span.channel or 0] if bursts else channels[0]
    return Rumble(
        bursts=tuple(sorted(listed, key=lambda burst: (burst.span.start_frame, burst.span.channel))),
        share_percent=max(one.share_percent for one in channels),
        voice_dbfs=loudest.voice_dbfs,
        reason="",
    )


def _channel(powers: np.ndarray, channel: int, frames_per_hop: int, rate_hz: int) -> _Channel:
    low, voice = powers.T
    gate = voice.mean() / 10.0 ** (GATE_DB / 10.0)
    voice_power = float(voice[voice >= gate].mean())
    least = max(
        voice_power / 10.0 ** (BURST_BELOW_VOICE_DB / 10.0),
        float(np.percentile(low, STEADY_PERCENTILE)) * 10.0 ** (BURST_OVER_STEADY_DB / 10.0),
    )
    joined = max(1, round(JOINED_S * rate_hz / frames_per_hop))
    found = [
        _burst(powers[first : last + 1], voice_power, _span(first, last, channel, frames_per_hop, rate_hz))
        for first, last in _groups(np.flatnonzero(low >= least), joined)
    ]
    return _Channel(found, 100.0 * float(low.sum() / powers.sum()), power_db(voice_power))


def _groups(frames: np.ndarray, gap: int) -> list[tuple[int, int]]:
    """Return first and last frame of every group of frames no more than `gap` apart."""
    if not len(frames):
        return []
    breaks = np.flatnonzero(np.diff(frames) > gap)
    firsts, lasts = frames[np.append(0, breaks + 1)], frames[np.append(breaks, len(frames) - 1)]
    return list(zip(firsts.tolist(), lasts.tolist(), strict=True))


def _burst(powers: np.ndarray, voice_power: float, span: Span) -> RumbleBurst:
    height = float(powers[:, 0].max())
    return RumbleBurst(
        span=span,
        level_dbfs=10.0 * float(np.log10(height)),
        over_voice_db=10.0 * float(np.log10(height / voice_power)),
        share_percent=100.0 * float(powers[:, 0].sum() / powers.sum()),
    )


def _span(first: int, last: int, channel: int, frames_per_hop: int, rate_hz: int) -> Span:
    """Return the stretch from the middle half of one frame to that of another: a Hann window hardly hears the rest."""
    start, end = round((first + 0.5) * frames_per_hop), round((last + 1.5) * frames_per_hop)
    return Span(start / rate_hz, end / rate_hz, start, end, channel)
