"""Loudness to ITU-R BS.1770-5 Annex 1 with the windows of EBU Tech 3341 and the range of EBU Tech 3342.

Equation numbers are of BS.1770-5.
"""

import math

import numpy as np

from audio_qc.facts.sound import Loudness, LoudnessCurve
from audio_qc.kernels import blocks as kernels
from audio_qc.meters.interpolation import Overlap, sinc_phases

HOPS_PER_SECOND = 100  # Tech 3341 cases 13 and 14 fail if momentary loudness is evaluated every 100 ms
MOMENTARY_HOPS = 40  # 400 ms
SHORT_TERM_HOPS = 300  # 3 s
HOPS_TOGETHER = 1_000  # so many are added up over the windows in one go
GATING_STEP_HOPS = 10  # 400 ms blocks with 75 % overlap
ABSOLUTE_GATE_LUFS = -70.0
RELATIVE_GATE_LU = -10.0
RANGE_GATE_LU = -20.0  # Tech 3342, as all that concerns the loudness range
RANGE_PERCENT = (10.0, 95.0)
OFFSET = -0.691  # equation 2
LOWEST_DIRECT_RATE_HZ = 32_000  # below it the redesigned filters depart from the response at 48 kHz by 0.03 dB and more
FILTER_RATE_HZ = 48_000

# Annex 1 Table 3; six channels are taken in the usual WAV order L R C LFE Ls Rs, and the LFE does not count.
WEIGHTS = {5: (1.0, 1.0, 1.0, 1.41, 1.41), 6: (1.0, 1.0, 1.0, 0.0, 1.41, 1.41)}


def k_weighting(rate_hz: int) -> np.ndarray:
    """Return b0 b1 b2 a1 a2 of both stages, designed so that 48 kHz gives Annex 1 Tables 1 and 2.

    The tables' second numerator is not normalised, so at other rates it is scaled to keep the gain at 48 kHz.
    """
    return np.array([*_shelf(rate_hz), *_high_pass(rate_hz)])


def _shelf(rate_hz: int) -> list[float]:
    f0, gain_db, q = 1681.974450955533, 3.999843853973347, 0.7071752369554196
    k, vh = math.tan(math.pi * f0 / rate_hz), 10.0 ** (gain_db / 20.0)
    vb = vh**0.4996667741545416
    a0 = 1.0 + k / q + k * k
    b = [vh + vb * k / q + k * k, 2.0 * (k * k - vh), vh - vb * k / q + k * k]
    return [value / a0 for value in (*b, 2.0 * (k * k - 1.0), 1.0 - k / q + k * k)]


def _high_pass(rate_hz: int) -> list[float]:
    f0, q = 38.13547087602444, 0.5003270373238773

    def denominator(rate: int) -> tuple[float, float]:
        k = math.tan(math.pi * f0 / rate)
        return k, 1.0 + k / q + k * k

    k, d = denominator(rate_hz)
    scale = denominator(FILTER_RATE_HZ)[1] / d
    return [scale, -2.0 * scale, scale, 2.0 * (k * k - 1.0) / d, (1.0 - k / q + k * k) / d]


def loudness_of(power: float) -> float:
    """Equation 2, for a weighted sum of mean squares above 0."""
    return OFFSET + 10.0 * math.log10(power)


def power_of(loudness_lufs: float) -> float:
    """The inverse of equation 2."""
    return float(10.0 ** ((loudness_lufs - OFFSET) / 10.0))


class _Channel:
    """The K-weighted energies of one channel, window by window of 10 ms."""

    def __init__(self, rate_hz: int) -> None:
        self._factor = 1 if rate_hz >= LOWEST_DIRECT_RATE_HZ else math.ceil(FILTER_RATE_HZ / rate_hz)
        self.rate_hz = rate_hz * self._factor
        self._phases = sinc_phases(self._factor)
        self._overlap = Overlap()
        self._filter = k_weighting(self.rate_hz)
        self._state = np.zeros(7)
        self._frames = 0

    def energies(self, samples: np.ndarray) -> np.ndarray:
        """Return the sum of squares of every window that `samples` finishes."""
        if self._factor > 1:
            samples = kernels.interpolated(self._overlap.joined(samples), self._phases)
        return self._energies(samples)

    def last_energies(self) -> np.ndarray:
        """Return the windows that the end of the recording finishes."""
        if self._factor == 1:
            return np.empty(0)
        return self._energies(kernels.interpolated(self._overlap.ending(), self._phases))

    def _energies(self, samples: np.ndarray) -> np.ndarray:
        out = np.empty(len(samples) * HOPS_PER_SECOND // self.rate_hz + 2)
        first, self._frames = self._frames, self._frames + len(samples)
        done = kernels.k_weighted_energies(
            samples, self._filter, self._state, first, self.rate_hz, HOPS_PER_SECOND, out
        )
        return out[:done]


class LoudnessMeter:
    """Integrated, maximum short-term and maximum momentary loudness, loudness range and loudness over time.

    Only the powers of windows that begin at every tenth of a second are kept.
    """

    def __init__(self, rate_hz: int, channels: int) -> None:
        self._channels = [_Channel(rate_hz) for _ in range(channels)]
        self._weights = WEIGHTS.get(channels, (1.0,) * channels)
        self._waiting: list[np.ndarray] = []
        self._recent = np.empty(0)
        self._hops = 0
        self._windows = {width: _Windows(width) for width in (MOMENTARY_HOPS, SHORT_TERM_HOPS)}

    def add(self, block: np.ndarray) -> None:
        """Take the next block, shape (channels, frames)."""
        self._wait([channel.energies(samples) for channel, samples in zip(self._channels, block, strict=True)])
        if sum(map(len, self._waiting)) >= HOPS_TOGETHER:
            self._add_hops()

    def result(self) -> Loudness:
        """Return the facts; called once, after the last block."""
        self._wait([channel.last_energies() for channel in self._channels])
        self._add_hops()
        momentary, short_term = (self._windows[width] for width in (MOMENTARY_HOPS, SHORT_TERM_HOPS))
        integrated, integrated_reason = _integrated(momentary.powers())
        loudness_range, range_reason = _range(short_term.powers())
        max_short_term, max_short_term_reason = self._maximum(short_term, "shorter than 3 seconds")
        max_momentary, max_momentary_reason = self._maximum(momentary, "shorter than 0.4 seconds")
        return Loudness(
            integrated_lufs=integrated,
            integrated_reason=integrated_reason,
            max_short_term_lufs=max_short_term,
            max_short_term_reason=max_short_term_reason,
            max_momentary_lufs=max_momentary,
            max_momentary_reason=max_momentary_reason,
            loudness_range_lu=loudness_range,
            loudness_range_reason=range_reason,
            curve=LoudnessCurve(0.4, _series(momentary.powers()), 3.0, _series(short_term.powers())),
        )

    def _wait(self, energies: list[np.ndarray]) -> None:
        new = sum(weight * energy for weight, energy in zip(self._weights, energies, strict=True))
        self._waiting.append(np.asarray(new))

    def _add_hops(self) -> None:
        kept = self._recent[-(SHORT_TERM_HOPS - 1) :]
        hops = np.concatenate((kept, *self._waiting))
        self._waiting.clear()
        first = self._hops - len(kept)  # number of the first hop in `hops`
        self._hops += len(hops) - len(kept)
        for width, windows in self._windows.items():
            start = max(0, len(kept) - width + 1)
            frames = width * self._channels[0].rate_hz / HOPS_PER_SECOND
            windows.add(kernels.sliding_sums(hops[start:], width) / frames, first + start)
        self._recent = hops

    def _maximum(self, windows: "_Windows", too_short: str) -> tuple[float | None, str]:
        if self._hops < windows.width:
            return None, f"The recording is {too_short}."
        if windows.highest <= 0.0:
            return None, "The recording is digital silence."
        return loudness_of(windows.highest), ""


class _Windows:
    """Powers of all windows of one width: the highest, and those that begin at every tenth of a second."""

    def __init__(self, width: int) -> None:
        self.width = width
        self.highest = 0.0
        self._kept: list[np.ndarray] = []

    def add(self, powers: np.ndarray, first: int) -> None:
        if len(powers):
            self.highest = max(self.highest, float(powers.max()))
            self._kept.append(powers[-first % GATING_STEP_HOPS :: GATING_STEP_HOPS].copy())

    def powers(self) -> np.ndarray:
        return np.concatenate(self._kept) if self._kept else np.empty(0)


def _integrated(powers: np.ndarray) -> tuple[float | None, str]:
    """Equations 5 to 7: mean power of the 400 ms blocks above both gates."""
    if not len(powers):
        return None, "The recording is shorter than one 0.4 second block."
    loud = powers[powers > power_of(ABSOLUTE_GATE_LUFS)]
    if not len(loud):
        return None, "Nothing in the recording is louder than -70 LUFS."
    relative = loudness_of(float(loud.mean())) + RELATIVE_GATE_LU
    return loudness_of(float(loud[loud > power_of(relative)].mean())), ""


def _range(powers: np.ndarray) -> tuple[float | None, str]:
    """Tech 3342 section 3.1: from the 10th to the 95th percentile of gated short-term loudness; its gates include."""
    if not len(powers):
        return None, "The recording is shorter than 3 seconds."
    loud = powers[powers >= power_of(ABSOLUTE_GATE_LUFS)]
    if not len(loud):
        return None, "Nothing in the recording is as loud as -70 LUFS."
    kept = np.sort(loud[loud >= loud.mean() * 10.0 ** (RANGE_GATE_LU / 10.0)])
    # Halves are rounded up, as in the listing of Tech 3342.
    low, high = (kept[int((len(kept) - 1) * percent / 100.0 + 0.5)] for percent in RANGE_PERCENT)
    return 10.0 * math.log10(high / low), ""


def _series(powers: np.ndarray) -> tuple[float | None, ...]:
    levels = np.round(OFFSET + 10.0 * np.log10(np.where(powers > 0.0, powers, 1.0)), 1)
    # A float is made anew for every value, so equal ones are shared: a long recording has some hundreds of them.
    shared: dict[float, float] = {}
    return tuple(
        shared.setdefault(level, level) if power > 0.0 else None
        for level, power in zip(levels.tolist(), powers.tolist(), strict=True)
    )
