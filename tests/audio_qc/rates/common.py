"""What every table of rates shares: which recordings are tuned on and which judged, loading, and printing."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
import soundfile
from scipy.signal import resample_poly

from tests.audio_qc.helpers import REFERENCE

# Limits were chosen by looking at the first half only; the second half says what they are worth. Never mix them.
TUNED_ON = [
    "reading_20s_48k.wav",
    "sentence_m_48k.wav",
    "reader_f_22k.wav",
    "talk_60s_16k.wav",
    "reader_austen_16k.wav",
    "announcer_8k.wav",
]
JUDGED_ON = [
    "sentence_p286_48k.wav",
    "german_pauses_44k.wav",
    "public_address_1961_44k24.flac",
    "conversation_30s_16k.wav",
    "meeting_float32_16k.wav",
    "sentence_short_16k.wav",
]
HALVES = {"tuned on": TUNED_ON, "judged on": JUDGED_ON}


@dataclass(frozen=True)
class Recording:
    """One recording of real speech; `samples` have shape (channels, frames), full scale 1.0."""

    name: str
    rate_hz: int
    samples: np.ndarray


def load(path: str) -> Recording:
    """Read a recording by its place in the reference, as `speech/talk_60s_16k.wav`."""
    samples, rate_hz = soundfile.read(REFERENCE / path, always_2d=True)
    return Recording(path.rpartition("/")[2], rate_hz, np.ascontiguousarray(samples.T))


def speech(names: Iterable[str]) -> Iterator[Recording]:
    """Read the named recordings of clean speech."""
    return (load(f"speech/{name}") for name in names)


def table(title: str, heads: list[str], rows: Iterable[Iterable[object]]) -> str:
    """Return a Markdown table under its title."""
    lines = [heads, ["---"] * len(heads), *([str(cell) for cell in row] for row in rows)]
    return "\n".join([f"### {title}", "", *("| " + " | ".join(line) + " |" for line in lines), ""])


def rate(hits: int, tries: int) -> str:
    """Return "11 of 12"."""
    return f"{hits} of {tries}"


def resampled(recording: Recording, rate_hz: int) -> Recording:
    """Return the recording at another rate."""
    ratio = Fraction(rate_hz, recording.rate_hz)
    samples = resample_poly(recording.samples, ratio.numerator, ratio.denominator, axis=1, window=("kaiser", 8.0))
    return Recording(recording.name, rate_hz, samples)


def at_peak(samples: np.ndarray, dbfs: float) -> np.ndarray:
    """Return the samples with their highest absolute value at a level."""
    scaled: np.ndarray = samples * (10.0 ** (dbfs / 20.0) / np.abs(samples).max())
    return scaled


def quantised(samples: np.ndarray, bits: int, dither: np.random.Generator | None = None) -> np.ndarray:
    """Return the samples in the steps of a word length; with triangular dither of one step when asked."""
    steps = 2.0 ** (bits - 1)
    scaled = samples * steps
    if dither is not None:
        scaled = scaled + dither.random(scaled.shape) - dither.random(scaled.shape)
    whole: np.ndarray = np.clip(np.rint(scaled), -steps, steps - 1) / steps
    return whole
