"""What every table of rates shares: which recordings are tuned on and which judged, loading, and printing."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
import soundfile

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
