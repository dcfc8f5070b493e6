"""Mains hum of known level added to real speech: how often it is found, and how often clean speech is accused."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from audio_qc import SPOKEN_INTERVIEW
from audio_qc.facts.faults import Hum
from audio_qc.meters.lowband import LowBandMeter
from tests.audio_qc.helpers import metered
from tests.audio_qc.rates.common import HALVES, Recording, rate, speech, table

LEVELS_DBFS = (-70.0, -60.0, -55.0, -50.0, -45.0, -40.0, -35.0)
LEAST_SECONDS = 15.0  # shorter clips are repeated, as a meter needs more than a sentence
REAL_HUM = ("reader_austen_16k.wav", "public_address_1961_44k24.flac")  # 60 Hz lines of their own: not clean here


@dataclass(frozen=True)
class Kind:
    """One sort of hum: amplitudes of its first harmonics, how far off nominal, how far it wanders each way."""

    name: str
    mains_hz: int
    amplitudes: tuple[float, ...]
    off: float = 0.0
    drift: float = 0.0


KINDS = (
    Kind("50 Hz alone", 50, (1.0,)),
    Kind("100 Hz alone", 50, (0.0, 1.0)),
    Kind("120 Hz alone", 60, (0.0, 1.0)),
    Kind("60 Hz with harmonics", 60, (1.0, 0.5, 0.7, 0.2, 0.3)),
    Kind("50 Hz buzz", 50, (0.3, 1.0, 0.2, 0.7, 0.1, 0.5)),
    Kind("100 and 300 Hz, 0.3 % high", 50, (0.0, 1.0, 0.0, 0.0, 0.0, 0.5), off=0.003),
    Kind("60, 120, 180 Hz, 0.3 % low", 60, (1.0, 1.0, 1.0), off=-0.003),
    Kind("100 and 200 Hz, wandering 0.2 %", 50, (0.0, 1.0, 0.0, 0.5), drift=0.002),
)


def hum(kind: Kind, dbfs: float, frames: int, rate_hz: int) -> np.ndarray:
    """Return hum whose plain RMS level is `dbfs`, wandering once to and fro."""
    turn = np.linspace(0.0, 2 * np.pi, frames)
    phase = 2 * np.pi * np.cumsum(kind.mains_hz * (1 + kind.off + kind.drift * np.sin(turn))) / rate_hz
    whole = sum(amplitude * np.sin(n * phase + n) for n, amplitude in enumerate(kind.amplitudes, 1))
    return np.asarray(whole * 10 ** (dbfs / 20) / np.sqrt(0.5 * sum(a * a for a in kind.amplitudes)))


def long_enough(recording: Recording) -> np.ndarray:
    """Return the recording's samples, a short one several times over."""
    times = int(np.ceil(LEAST_SECONDS * recording.rate_hz / recording.samples.shape[1]))
    return np.tile(recording.samples, times)


def measured(samples: np.ndarray, rate_hz: int) -> Hum:
    """Return the facts about hum in samples of shape (channels, frames)."""
    facts: Hum = metered(LowBandMeter(rate_hz, len(samples)), samples.T)[0]
    return facts


def stands_out(facts: Hum) -> bool:
    """Tell whether the default profile would speak of hum."""
    return bool(facts.lines) and (facts.prominence_db or 0.0) > SPOKEN_INTERVIEW.hum_prominence.value


def found(facts: Hum, kind: Kind) -> bool:
    """Tell whether the hum was found and is told as the mains that it is."""
    true_hz = kind.mains_hz * (1 + kind.off)
    return (
        stands_out(facts) and abs((facts.measured_hz or 0.0) / true_hz - 1) < 0.0035 and facts.mains_hz == kind.mains_hz
    )


def hits(recordings: Iterable[Recording], kinds: Iterable[Kind], dbfs: float) -> tuple[int, int]:
    """Return how many mixtures were found, of how many."""
    outcomes = []
    for recording in recordings:
        samples = long_enough(recording)
        for kind in kinds:
            added = hum(kind, dbfs, samples.shape[1], recording.rate_hz)
            outcomes.append(found(measured(samples + added, recording.rate_hz), kind))
    return sum(outcomes), len(outcomes)


def clean(names: Iterable[str]) -> list[Recording]:
    """Return the recordings that have no hum of their own."""
    return list(speech(name for name in names if name not in REAL_HUM))


def accused(recordings: Iterable[Recording]) -> list[str]:
    """Return the names of those in which hum is seen although none was added."""
    return [one.name for one in recordings if stands_out(measured(long_enough(one), one.rate_hz))]


def tables() -> list[str]:
    """Return the tables as Markdown."""
    halves = {half: clean(names) for half, names in HALVES.items()}
    rows = [
        [f"{dbfs:g} dBFS", *(rate(*hits(recordings, KINDS, dbfs)) for recordings in halves.values())]
        for dbfs in LEVELS_DBFS
    ]
    by_kind = [
        [kind.name, *(rate(*hits(recordings, [kind], -50.0)) for recordings in halves.values())] for kind in KINDS
    ]
    alarms = [f"{rate(len(accused(speech(names))), len(names))}" for names in HALVES.values()]
    rows.append(["false alarms, nothing added", *alarms])
    return [
        table("Mains hum found, by its RMS level", ["hum", *HALVES], rows),
        table("Mains hum of -50 dBFS found, by kind", ["kind", *HALVES], by_kind),
    ]
