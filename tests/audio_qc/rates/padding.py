"""Rates of padded low bits."""

import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from audio_qc import measure
from tests.audio_qc.rates.common import HALVES, Recording, at_peak, quantised, rate, speech, table
from tests.signals import write

# (bits of the sound, how it is stored, the bits that must be found; None for floats without a fixed step)
CASES: list[tuple[int | None, str, int | None]] = [
    (8, "PCM_U8", 8),
    (16, "PCM_16", 16),
    (24, "PCM_24", 24),
    (12, "PCM_16", 12),
    (16, "PCM_24", 16),
    (20, "PCM_24", 20),
    (16, "PCM_32", 16),
    (24, "PCM_32", 24),
    (16, "FLOAT", 16),
    (24, "FLOAT", 24),
    (None, "FLOAT", None),
    (24, "DOUBLE", 24),
]


def hits(half: list[Recording], bits: int | None, subtype: str, expected: int | None) -> tuple[int, int]:
    """Return how many files of whispers to loud voices give exactly the expected bits, of how many."""
    found = []
    with tempfile.TemporaryDirectory() as folder:
        for one in half:
            for peak_dbfs in (-1.0, -20.0, -40.0):
                # Scaled anew and dithered, so that a true file uses its lowest bit whatever the recording had.
                loud = at_peak(one.samples[0], peak_dbfs) * 0.987654321
                samples = loud if bits is None else quantised(loud, bits, np.random.default_rng(bits))
                path = write(Path(folder) / "part.wav", samples, one.rate_hz, subtype)
                found.append(measure(path).resolution.used_bits == expected)
    return sum(found), len(found)


def tables() -> Iterator[str]:
    """Yield one table for both halves; nothing was tuned, so they only repeat each other."""
    halves = [list(speech(names)) for names in HALVES.values()]
    rows = [
        [
            "no fixed step" if bits is None else f"{bits} bits",
            subtype,
            "none" if expected is None else expected,
            *(rate(*hits(half, bits, subtype, expected)) for half in halves),
        ]
        for bits, subtype, expected in CASES
    ]
    yield table("True resolution", ["sound of", "stored as", "bits to find", *HALVES], rows)
