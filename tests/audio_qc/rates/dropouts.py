"""Rates of dropouts: gaps of zeros, gaps of a held sample, faded gaps, lost samples."""

from collections.abc import Callable, Iterator

import numpy as np

from audio_qc.facts.faults import Dropouts
from audio_qc.meters.samples import SampleMeter
from tests.audio_qc.helpers import metered
from tests.audio_qc.rates.clipping import clean_files, recordings
from tests.audio_qc.rates.common import HALVES, Recording, at_peak, quantised, rate, table

LENGTHS_MS = (1, 3, 10, 50, 300)
PLACES = 12  # in each recording
SPEECH_DBFS = -30.0  # a place is in speech when this is reached on both sides
WITHIN_S = 0.02
FAST_HZ = 32_000
Harm = Callable[[np.ndarray, int, int], np.ndarray]


def zeroed(samples: np.ndarray, start: int, frames: int) -> np.ndarray:
    """Put zeros in place of the sound."""
    return np.concatenate((samples[:start], np.zeros(frames), samples[start + frames :]))


def faded(samples: np.ndarray, start: int, frames: int) -> np.ndarray:
    """Put zeros in place of the sound, with a linear fade of a tenth of the gap on each side of it."""
    fade = max(1, frames // 10)
    harmed = zeroed(samples, start, frames)
    harmed[start - fade : start] *= np.linspace(1.0, 0.0, fade)
    harmed[start + frames : start + frames + fade] *= np.linspace(0.0, 1.0, fade)
    return harmed


def held(samples: np.ndarray, start: int, frames: int) -> np.ndarray:
    """Repeat the last sample in place of the sound."""
    return np.concatenate((samples[:start], np.full(frames, samples[start - 1]), samples[start + frames :]))


def deleted(samples: np.ndarray, start: int, frames: int) -> np.ndarray:
    """Leave the sound out, so that its ends meet."""
    return np.concatenate((samples[:start], samples[start + frames :]))


HARMS: dict[str, Harm] = {"zeroed": zeroed, "faded out": faded, "held": held, "deleted": deleted}


def places(one: Recording, frames: int, dither: np.random.Generator) -> np.ndarray:
    """Return random places in speech."""
    samples, within = one.samples[0], round(WITHIN_S * one.rate_hz)
    level = 10.0 ** (SPEECH_DBFS / 20.0) * np.abs(samples).max()
    loud = np.convolve(np.abs(samples) > level, np.ones(within), "same") > 0
    starts = np.arange(one.rate_hz // 10, len(samples) - frames - one.rate_hz // 10)
    in_speech = starts[loud[starts - within // 2] & loud[starts + frames + within // 2]]
    return dither.choice(in_speech, PLACES, replace=False) if len(in_speech) >= PLACES else in_speech


def dropouts_of(samples: np.ndarray, rate_hz: int) -> Dropouts:
    """Measure one channel."""
    _, _, dropouts, _ = metered(SampleMeter(rate_hz, 1), samples)
    assert isinstance(dropouts, Dropouts)
    return dropouts


def hits(half: list[Recording], harm: Harm, length_ms: int) -> tuple[int, int, int]:
    """Return how many dropouts are found in their place, of how many, and how many are found elsewhere.

    Each harmed file holds one dropout, in 16 bits with dither before the harm.
    """
    found, tries, elsewhere = 0, 0, 0
    for number, one in enumerate(half):
        chance = np.random.default_rng(1000 * length_ms + number)
        clean = quantised(at_peak(one.samples[0], -6.0), 16, chance)
        frames = round(length_ms * one.rate_hz / 1000)
        for start in places(one, frames, chance):
            spans = dropouts_of(harm(clean, int(start), frames), one.rate_hz).spans
            margin = one.rate_hz // 200
            near = [span for span in spans if start - margin <= span.start_frame <= start + frames + margin]
            found, tries, elsewhere = found + bool(near), tries + 1, elsewhere + len(spans) - len(near)
    return found, tries, elsewhere


def false_alarms(half: list[Recording]) -> tuple[int, int]:
    """Return how many clean files are said to have a dropout, of how many."""
    found = [dropouts_of(samples[0], one.rate_hz).count for one in half for samples in clean_files(one)]
    return sum(count > 0 for count in found), len(found)


def tables() -> Iterator[str]:
    """Yield a table for each half; a jump stands out the more, the higher the rate, so rates are told apart."""
    heads = ["found when", "rate", *(f"{length} ms" for length in LENGTHS_MS)]
    for half in HALVES:
        chosen = recordings(half)
        fast = [one for one in chosen if one.rate_hz >= FAST_HZ]
        slow = [one for one in chosen if one.rate_hz < FAST_HZ]
        rows, elsewhere = [], 0
        for what, harm in HARMS.items():
            for name, some in (("32 kHz and more", fast), ("under 32 kHz", slow)):
                counts = [hits(some, harm, length) for length in LENGTHS_MS]
                elsewhere += sum(count[2] for count in counts)
                rows.append([what, name, *(rate(found, tries) for found, tries, _ in counts)])
        yield table(f"Dropouts, {half}", heads, rows)
        yield f"Found elsewhere: {elsewhere}. Clean files said to have a dropout: {rate(*false_alarms(chosen))}.\n"
