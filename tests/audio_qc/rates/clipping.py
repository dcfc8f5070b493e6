"""Rates of clipping at full scale and below it."""

from collections.abc import Callable, Iterator

import numpy as np

from audio_qc.facts.faults import Clipping, FlatTops
from audio_qc.meters.samples import SampleMeter
from tests.audio_qc.helpers import metered
from tests.audio_qc.rates.common import (
    HALVES,
    Recording,
    at_peak,
    load,
    quantised,
    rate,
    resampled,
    speech,
    table,
)

ATTENUATIONS_DB = (0.0, 0.5, 3.0, 6.0, 12.0)
OTHER_RATES_HZ = {48_000: 32_000, 44_100: 24_000, 22_050: 44_100, 16_000: 48_000, 8_000: 16_000}
Squash = Callable[[np.ndarray, int], np.ndarray]


def recordings(half: str) -> list[Recording]:
    """Return a half's recordings, the first channel of each, at its own rate and at another."""
    found = list(speech(HALVES[half]))
    if half == "tuned on":
        found += [load("faulty/quiet_16k.wav"), load("faulty/dropout_timemask_clean_16k.flac")]
    found = [Recording(one.name, one.rate_hz, one.samples[:1]) for one in found]
    return found + [resampled(one, OTHER_RATES_HZ[one.rate_hz]) for one in found]


def clipping_of(samples: np.ndarray, rate_hz: int) -> tuple[Clipping, FlatTops]:
    """Measure samples of shape (channels, frames)."""
    clipping, flat_tops, _, _ = metered(SampleMeter(rate_hz, len(samples)), samples.T)
    return clipping, flat_tops


def found_in(samples: np.ndarray, rate_hz: int) -> bool:
    """Tell whether either kind of clipping is found."""
    clipping, flat_tops = clipping_of(samples, rate_hz)
    return clipping.moments + flat_tops.moments > 0


def hard(depth_db: float) -> Squash:
    """Clip so that the highest peak would have been so far above the ceiling."""
    return lambda samples, rate_hz: np.clip(at_peak(samples, depth_db), -1.0, 1.0)


def one_sided(depth_db: float) -> Squash:
    """Clip the polarity that has the higher peak."""

    def squash(samples: np.ndarray, rate_hz: int) -> np.ndarray:
        driven = at_peak(samples, depth_db)
        return np.minimum(driven, 1.0) if driven.max() > -driven.min() else np.maximum(driven, -1.0)

    return squash


def soft(drive_db: float) -> Squash:
    """Saturate as valves and tape do: the hyperbolic tangent of a signal whose peak is so far above 1."""
    return lambda samples, rate_hz: np.tanh(at_peak(samples, drive_db))


def limiter(depth_db: float, release_s: float = 0.05) -> Squash:
    """Limit without looking ahead: the gain falls at once and comes back within the release time."""

    def squash(samples: np.ndarray, rate_hz: int) -> np.ndarray:
        driven = at_peak(samples, depth_db)
        fall = np.exp(-1.0 / (release_s * rate_hz))
        out = np.empty_like(driven)
        for channel, signal in enumerate(driven):
            envelope = 1.0
            for n, value in enumerate(signal.tolist()):
                envelope = max(1.0, abs(value), 1.0 + (envelope - 1.0) * fall)
                out[channel, n] = value / envelope
        return out

    return squash


def stored(samples: np.ndarray, attenuation_db: float) -> Iterator[np.ndarray]:
    """Yield what a file holds afterwards: 16 and 24 bits, without and with dither."""
    quieter = samples * 10.0 ** (-attenuation_db / 20.0)
    for bits in (16, 24):
        for dither in (None, np.random.default_rng(bits)):
            yield quantised(quieter, bits, dither)


def hits(half: list[Recording], squash: Squash, attenuation_db: float) -> tuple[int, int]:
    """Return how many files are found clipped, of how many."""
    found = [
        found_in(samples, one.rate_hz)
        for one in half
        for samples in stored(squash(one.samples, one.rate_hz), attenuation_db)
    ]
    return sum(found), len(found)


SQUASHES: dict[str, Squash] = {
    "clipped 1 dB deep": hard(1.0),
    "clipped 3 dB deep": hard(3.0),
    "clipped 6 dB deep": hard(6.0),
    "clipped 12 dB deep": hard(12.0),
    "one side clipped 3 dB deep": one_sided(3.0),
    "one side clipped 6 dB deep": one_sided(6.0),
    "saturated (tanh) by 6 dB": soft(6.0),
    "saturated (tanh) by 12 dB": soft(12.0),
    "saturated (tanh) by 20 dB": soft(20.0),
    "fast limiter, 6 dB": limiter(6.0),
    "fast limiter, 12 dB": limiter(12.0),
}


def clean_files(one: Recording) -> Iterator[np.ndarray]:
    """Yield what a clean recording may be stored as: several levels, word lengths and codings."""
    for peak_dbfs in (-0.5, -6.0, -20.0, -35.0):
        loud = at_peak(one.samples, peak_dbfs)
        yield quantised(loud, 24)
        yield quantised(loud, 16)
        yield quantised(loud, 16, np.random.default_rng(1))
        yield quantised(loud, 8)
        yield mu_law(loud)


def mu_law(samples: np.ndarray) -> np.ndarray:
    """Return samples in 8-bit mu-law steps (ITU-T G.711, by its continuous form)."""
    compressed = np.sign(samples) * np.log1p(255.0 * np.abs(samples)) / np.log1p(255.0)
    coarse = np.rint(compressed * 127.0) / 127.0
    expanded: np.ndarray = np.sign(coarse) * np.expm1(np.abs(coarse) * np.log1p(255.0)) / 255.0
    return expanded


def false_alarms(half: list[Recording]) -> tuple[int, int]:
    """Return how many clean files are called clipped, of how many."""
    found = [found_in(samples, one.rate_hz) for one in half for samples in clean_files(one)]
    return sum(found), len(found)


def tables() -> Iterator[str]:
    """Yield a table for each half."""
    for half in HALVES:
        chosen = recordings(half)
        rows = [
            [name, *(rate(*hits(chosen, squash, attenuation)) for attenuation in ATTENUATIONS_DB)]
            for name, squash in SQUASHES.items()
        ]
        heads = ["found when", *(f"then {attenuation:g} dB quieter" for attenuation in ATTENUATIONS_DB)]
        yield table(f"Clipping, {half}", heads, rows)
        yield f"Clean files called clipped: {rate(*false_alarms(chosen))}.\n"
