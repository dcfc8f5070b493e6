"""Rates of the findings on channels: one inverted, one dead, one quieter, both the same."""

import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np

from audio_qc import report
from tests.audio_qc.rates.common import HALVES, Recording, at_peak, rate, speech, table
from tests.signals import write

Pair = Callable[[np.ndarray, np.random.Generator], tuple[np.ndarray, np.ndarray]]


def noise_at(samples: np.ndarray, below_db: float, chance: np.random.Generator) -> np.ndarray:
    """Return white noise so far below the RMS of samples."""
    level = float(np.sqrt(np.mean(samples**2))) * 10.0 ** (-below_db / 20.0)
    return level * chance.standard_normal(len(samples))


def inverted(gain_db: float, noise_db: float) -> Pair:
    """One channel turned over, at another level, each with noise of its own so far below the voice."""
    return lambda voice, chance: (
        voice + noise_at(voice, noise_db, chance),
        -(10.0 ** (gain_db / 20.0)) * (voice + noise_at(voice, noise_db, chance)),
    )


def upright(gain_db: float, noise_db: float) -> Pair:
    """Two good channels."""
    return lambda voice, chance: (
        voice + noise_at(voice, noise_db, chance),
        10.0 ** (gain_db / 20.0) * (voice + noise_at(voice, noise_db, chance)),
    )


def two_voices(voice: np.ndarray, chance: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Two microphones on two speakers, each hearing the other 12 dB quieter and 3 ms or more later."""
    other = np.roll(voice, len(voice) // 3)
    late = int(chance.integers(60, 200))
    return voice + 0.25 * np.roll(other, late), other + 0.25 * np.roll(voice, late)


def dead(noise_dbfs: float) -> Pair:
    """One channel with nothing but the noise of its input."""
    return lambda voice, chance: (voice, 10.0 ** (noise_dbfs / 20.0) * chance.standard_normal(len(voice)))


CASES: dict[str, tuple[Pair, set[str]]] = {
    "inverted, noise 40 dB below": (inverted(0.0, 40.0), {"channel-inverted"}),
    "inverted, noise 20 dB below": (inverted(0.0, 20.0), {"channel-inverted"}),
    "inverted, noise 10 dB below": (inverted(0.0, 10.0), {"channel-inverted"}),
    "inverted, noise 3 dB below": (inverted(0.0, 3.0), {"channel-inverted"}),
    "inverted and 5 dB quieter": (inverted(-5.0, 30.0), {"channel-inverted"}),
    "inverted and 12 dB quieter": (inverted(-12.0, 30.0), {"channel-inverted", "channels-unbalanced"}),
    "dead, noise at -80 dBFS": (dead(-80.0), {"channel-dead"}),
    "dead, noise at -72 dBFS": (dead(-72.0), {"channel-dead"}),
    "9 dB quieter": (upright(-9.0, 20.0), {"channels-unbalanced"}),
    "the same twice": (lambda voice, chance: (voice, voice), {"channels-identical"}),
    "good, noise 20 dB below": (upright(-2.0, 20.0), {"channels-good"}),
    "good, two speakers": (two_voices, {"channels-good"}),
}


def codes(one: Recording, pair: Pair, folder: Path, chance: np.random.Generator) -> set[str]:
    """Return the codes of the findings on the channels."""
    left, right = pair(at_peak(one.samples[0], -9.0), chance)
    path = write(folder / "pair.wav", np.stack((left, right), axis=1), one.rate_hz)
    return {finding.code for finding in report(path).findings if finding.measure == "channels"}


def hits(half: list[Recording], pair: Pair, expected: set[str]) -> tuple[int, int]:
    """Return how many pairs get exactly the expected findings, of how many."""
    chance = np.random.default_rng(7)
    with tempfile.TemporaryDirectory() as folder:
        found = [codes(one, pair, Path(folder), chance) == expected for one in half]
    return sum(found), len(found)


def tables() -> Iterator[str]:
    """Yield one table for both halves."""
    halves = [list(speech(names)) for names in HALVES.values()]
    rows = [
        [name, ", ".join(sorted(expected)), *(rate(*hits(half, pair, expected)) for half in halves)]
        for name, (pair, expected) in CASES.items()
    ]
    yield table("Channels", ["channels", "exactly these findings", *HALVES], rows)
