"""Mains hum: steady narrow lines at multiples of 50 or 60 Hz, looked for where nobody speaks.

That steady tones stay in every window while speech comes and goes, so that a low quantile over time keeps the one and
loses the other, is the idea of Brandt and Bitzer, J. Audio Eng. Soc. 62(9), 2014.
"""

from dataclasses import dataclass

import numpy as np

from audio_qc.facts.faults import Hum, HumLine
from audio_qc.meters.decibel import power_db
from audio_qc.meters.decimation import power_gain
from audio_qc.meters.noise import a_weighting

WINDOW, HOP = 2_048, 1_024  # about 1 s and 0.5 s at 2 kHz
LEAST_WINDOWS = 8  # 4.6 s: among fewer, noise alone shows lines
MOST_WINDOWS = 64
QUANTILE = 0.25
MOST_ZEROS = 0.1  # share of a window that may be digital silence
HARMONICS = range(1, 9)
MAINS_HZ = (50, 60)
LARGEST_DEVIATION = 0.011  # grids keep within 0.2 %; a real recording showed 121.2 Hz; the nearest note is 2 % off
PLACE_HZ = 0.3  # how well a line's place is known, at most
LINE_DB = 8.0  # what a line must show; clean speech showed up to 5.5 dB in the recordings tuned on
LINE_BINS = 1  # a Hann window keeps 98 % of a line or more within so many bins of its highest
NEIGHBOURS_HZ = (4.0, 16.0)  # beyond the line itself, short of the next harmonic
AGREEMENT_HZ = 0.5  # how far a line may lie from its multiple: half a bin
ALONE_UP_TO = 2  # which harmonics are hum without others: 50, 60, 100 and 120 Hz
WITH_OTHERS_UP_TO = 4  # the strongest of several; above, tones of instruments and tests are as likely


class QuietWindows:
    """The quietest window of one channel in each of up to 64 equal stretches of time, however long it runs."""

    def __init__(self) -> None:
        self._per_stretch = 1
        self._taken = 0
        self._kept: list[tuple[float, np.ndarray | None]] = []

    def add(self, samples: np.ndarray) -> None:
        """Take a whole number of hops, after the hop that was last before them (or the first of all)."""
        halves = samples.reshape(-1, HOP)
        sums, squares, zeros = halves.sum(axis=1), (halves**2).sum(axis=1), (halves == 0.0).sum(axis=1)
        variances = (squares[:-1] + squares[1:]) / WINDOW - ((sums[:-1] + sums[1:]) / WINDOW) ** 2
        variances[zeros[:-1] + zeros[1:] > MOST_ZEROS * WINDOW] = np.inf
        for n, variance in enumerate(variances.tolist()):
            self._offer(variance, samples[n * HOP : n * HOP + WINDOW])

    def quietest(self) -> np.ndarray:
        """Return the quieter half of the kept windows, at least LEAST_WINDOWS where there are as many."""
        kept = sorted((one for one in self._kept if one[1] is not None), key=lambda one: one[0])
        chosen = kept[: max(LEAST_WINDOWS, len(kept) // 2)]
        return np.array([samples for _, samples in chosen], dtype=float).reshape(-1, WINDOW)

    def _offer(self, variance: float, window: np.ndarray) -> None:
        if self._taken == self._per_stretch * MOST_WINDOWS:
            pairs = zip(self._kept[::2], self._kept[1::2], strict=True)
            self._kept = [min(pair, key=lambda one: one[0]) for pair in pairs]
            self._per_stretch *= 2
        if self._taken % self._per_stretch == 0:
            self._kept.append((np.inf, None))
        if variance < self._kept[-1][0]:
            self._kept[-1] = (variance, window.astype(np.float32))
        self._taken += 1


def hum_in(windows: np.ndarray, rate_hz: float, gains_from_hz: int, channel: int) -> Hum:
    """Measure one channel's quiet windows, shape (windows, WINDOW), brought from `gains_from_hz` down to `rate_hz`."""
    if len(windows) < LEAST_WINDOWS:
        return not_measured(f"Less than {(LEAST_WINDOWS + 1) * HOP / rate_hz:.1f} seconds of sound to look for hum in.")
    spectrum = _Spectrum(windows, rate_hz, gains_from_hz)
    combs = [(mains, [spectrum.line(mains * harmonic, harmonic) for harmonic in HARMONICS]) for mains in MAINS_HZ]
    found = [(_strongest(lines), mains, lines) for mains, every in combs if (lines := _agreeing(every))]
    if not found:
        highest = max(line.prominence_db for _, every in combs for line in every[:ALONE_UP_TO])
        return Hum(highest, None, None, None, None, (), channel, "")
    prominence, mains, lines = max(found, key=lambda one: one[0])
    return _hum(prominence, mains, lines, channel)


def not_measured(reason: str) -> Hum:
    """Return the facts of a recording in which hum cannot be told from chance."""
    return Hum(None, None, None, None, None, (), None, reason)


def worst(hums: list[Hum]) -> Hum:
    """Return the channel with the most prominent hum; unmeasured only when every channel is."""
    return max(hums, key=lambda hum: (bool(hum.lines), -np.inf if hum.prominence_db is None else hum.prominence_db))


@dataclass(frozen=True)
class _Line:
    harmonic: int
    hz: float
    prominence_db: float
    power: float


class _Spectrum:
    """What the windows have in common in each bin: a low quantile over time."""

    def __init__(self, windows: np.ndarray, rate_hz: float, gains_from_hz: int) -> None:
        shape = np.hanning(WINDOW + 1)[:-1]
        centred = windows - windows.mean(axis=1, keepdims=True)
        powers = np.abs(np.fft.rfft(centred * shape, axis=1)) ** 2 * 2.0 / (WINDOW * (shape**2).sum())
        self._power = np.quantile(powers, QUANTILE, axis=0)
        self._bin_hz = rate_hz / WINDOW
        self._gains_from_hz = gains_from_hz
        # Noise in a bin is distributed exponentially, so what share of its mean this order statistic is, is known.
        count = len(windows)
        order = np.cumsum(1.0 / np.arange(count, 0, -1))
        self._share_of_mean = float(np.interp(QUANTILE * (count - 1), np.arange(count), order))

    def line(self, nominal_hz: float, harmonic: int) -> _Line:
        """Measure the highest bin near a multiple of the mains; where none stands out its power is 0."""
        reach_hz = nominal_hz * LARGEST_DEVIATION + PLACE_HZ
        first, last = round((nominal_hz - reach_hz) / self._bin_hz), round((nominal_hz + reach_hz) / self._bin_hz)
        peak = first + int(np.argmax(self._power[first : last + 1]))
        beside = self._neighbours(peak)
        lines = self._power[peak - LINE_BINS : peak + LINE_BINS + 1]
        hz = (peak + _between_bins(lines)) * self._bin_hz
        if self._power[peak] < lines.max() or beside <= 0.0 or abs(hz - nominal_hz) > reach_hz:
            return _Line(harmonic, nominal_hz, 0.0, 0.0)
        excess = max(0.0, float(lines.sum()) - len(lines) * beside)
        prominence = 10.0 * np.log10(1.0 + excess / (len(lines) * beside / self._share_of_mean))
        gain = power_gain(np.array([hz]), self._gains_from_hz)[0]
        return _Line(harmonic, hz, float(prominence), excess / float(gain))

    def _neighbours(self, peak: int) -> float:
        """Return the power per bin beside a line, of its higher side: on a slope the other one would flatter it."""
        near, far = (round(hz / self._bin_hz) for hz in NEIGHBOURS_HZ)
        below, above = self._power[peak - far : peak - near + 1], self._power[peak + near : peak + far + 1]
        return float(max(np.median(below), np.median(above)))


def _between_bins(three: np.ndarray) -> float:
    """Return where between three bins a line lies: the top of a parabola through their decibels."""
    low, middle, high = np.log(np.maximum(three, 1e-300))
    bend = low - 2.0 * middle + high
    return float(np.clip(0.5 * (low - high) / bend, -0.5, 0.5)) if bend < 0.0 else 0.0


def _agreeing(lines: list[_Line]) -> list[_Line]:
    """Return the lines that are multiples of one frequency, none where they are not what hum looks like."""
    standing = [line for line in lines if line.prominence_db >= LINE_DB]
    low = [line for line in standing if line.harmonic <= WITH_OTHERS_UP_TO]
    if not low:
        return []
    anchor = max(low, key=lambda line: line.prominence_db)
    base = anchor.hz / anchor.harmonic
    agreeing = [line for line in standing if abs(line.hz - line.harmonic * base) <= AGREEMENT_HZ]
    return agreeing if len(agreeing) > 1 or anchor.harmonic <= ALONE_UP_TO else []


def _strongest(lines: list[_Line]) -> float:
    return max(line.prominence_db for line in lines)


def _hum(prominence_db: float, mains_hz: int, lines: list[_Line], channel: int) -> Hum:
    """A line's place is known to the same part of a bin at every harmonic, so higher ones tell the mains better."""
    weights = np.array([line.harmonic**2 for line in lines], dtype=float)
    measured = float(np.average([line.hz / line.harmonic for line in lines], weights=weights))
    powers = np.array([line.power for line in lines])
    weighted = powers @ a_weighting(np.array([line.hz for line in lines]))
    return Hum(
        prominence_db=prominence_db,
        mains_hz=mains_hz,
        measured_hz=measured,
        level_dbfs=power_db(float(powers.sum())),
        a_weighted_level_dbfs=power_db(float(weighted)),
        lines=tuple(HumLine(line.hz, line.prominence_db, float(10.0 * np.log10(line.power))) for line in lines),
        channel=channel,
        reason="",
    )
