"""Gusts and thumps of known level added to real speech: how many are found, and what clean speech is accused of.

The band of 12 to 64 Hz and the limit of -6 dB were chosen when the clean recordings of both halves had been looked at,
so for false alarms the second half is no independent judge here; no mixture of it was looked at.
"""

from collections.abc import Callable, Iterable

import numpy as np
from scipy import signal

from audio_qc import SPOKEN_INTERVIEW
from audio_qc.facts.faults import Rumble, Span
from audio_qc.meters.lowband import LowBandMeter
from tests.audio_qc.helpers import metered
from tests.audio_qc.rates.common import HALVES, Recording, rate, speech, table

LEVELS_DB = (-12.0, -6.0, 0.0, 6.0, 12.0)  # of a burst's RMS, relative to the RMS of the speech
EVERY_S = 4.0  # one burst in so many seconds
LEAST_SECONDS = 15.0
KNOWN_RUMBLE = ("german_pauses_44k.wav", "meeting_float32_16k.wav")  # a thump at 0:09; breath on a headset throughout


def gust(rate_hz: int, rng: np.random.Generator) -> np.ndarray:
    """Return one gust of wind, half a second to two seconds of noise that falls by 12 dB an octave from 40 Hz."""
    frames = round(rng.uniform(0.5, 2.0) * rate_hz)
    low_pass = signal.butter(2, 40.0, fs=rate_hz, output="sos")
    high_pass = signal.butter(1, 10.0, "highpass", fs=rate_hz, output="sos")
    noise = signal.sosfilt(np.concatenate((low_pass, high_pass)), rng.standard_normal(frames + rate_hz))[rate_hz:]
    return np.asarray(noise * np.hanning(frames))


def thump(rate_hz: int, rng: np.random.Generator) -> np.ndarray:
    """Return one knock against a microphone or its table, a tone of 25 to 55 Hz that dies away within 0.2 s."""
    t = np.arange(round(0.3 * rate_hz)) / rate_hz
    return np.asarray(np.sin(2 * np.pi * rng.uniform(25.0, 55.0) * t) * np.exp(-t / 0.06) * np.minimum(1.0, t / 0.005))


KINDS: dict[str, Callable[[int, np.random.Generator], np.ndarray]] = {"wind": gust, "thumps": thump}


def mixed(recording: Recording, kind: str, level_db: float) -> tuple[np.ndarray, list[tuple[int, int]]]:
    """Return the recording (repeated if short) with bursts, and where those lie; their RMS is over their own length."""
    rate_hz, rng = recording.rate_hz, np.random.default_rng(7)
    times = int(np.ceil(LEAST_SECONDS * rate_hz / recording.samples.shape[1]))
    samples, places = np.tile(recording.samples, times), []
    level = 10 ** (level_db / 20) * np.sqrt((samples**2).mean())
    for second in np.arange(1.0, samples.shape[1] / rate_hz - 4.0, EVERY_S):
        start, burst = round(second * rate_hz), KINDS[kind](rate_hz, rng)
        samples[:, start : start + len(burst)] += burst * level / np.sqrt((burst**2).mean())
        places.append((start, start + len(burst)))
    return samples, places


def told(facts: Rumble) -> list[Span]:
    """Return the bursts that the default profile would speak of."""
    return [one.span for one in facts.bursts if one.over_voice_db > SPOKEN_INTERVIEW.rumble_to_voice.value]


def measured(samples: np.ndarray, rate_hz: int) -> list[Span]:
    """Return where bursts are told of in samples of shape (channels, frames)."""
    return told(metered(LowBandMeter(rate_hz, len(samples)), samples.T)[1])


def hits(recordings: Iterable[Recording], kind: str, level_db: float) -> tuple[int, int]:
    """Return how many bursts were found, of how many."""
    outcomes = []
    for recording in recordings:
        samples, places = mixed(recording, kind, level_db)
        spans = measured(samples, recording.rate_hz)
        outcomes += [any(a.start_frame < end and a.end_frame > start for a in spans) for start, end in places]
    return sum(outcomes), len(outcomes)


def clean(names: Iterable[str]) -> list[Recording]:
    """Return the recordings without rumble of their own."""
    return list(speech(name for name in names if name not in KNOWN_RUMBLE))


def accused(recordings: Iterable[Recording]) -> list[str]:
    """Return the names of those in which rumble is seen although none was added."""
    return [one.name for one in recordings if measured(one.samples, one.rate_hz)]


def tables() -> list[str]:
    """Return the table as Markdown."""
    halves = {half: clean(names) for half, names in HALVES.items()}
    found = [
        [kind, f"{level:+g} dB", *(rate(*hits(recordings, kind, level)) for recordings in halves.values())]
        for kind in KINDS
        for level in LEVELS_DB
    ]
    alarms = [f"{rate(len(accused(speech(names))), len(names))}" for names in HALVES.values()]
    return [
        table(
            "Bursts of wind and thumps found, by their level relative to the recording",
            ["burst", "level", *HALVES],
            [*found, ["recordings with bursts, nothing added", "", *alarms]],
        )
    ]
