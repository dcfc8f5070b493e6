"""True resolution: how many bits of the samples are ever used."""

import numpy as np

from audio_qc.facts.faults import Resolution
from audio_qc.kernels import samples as kernels

WORD_BITS = {"PCM_S8": 8, "PCM_U8": 8, "PCM_16": 16, "PCM_24": 24, "PCM_32": 32}
# Converters give at most 24 bits that carry sound: a float off their grid has been computed, so it is a true float.
FLOATS, FLOAT_BITS = ("FLOAT", "DOUBLE"), 25
LEAST_SAMPLES = 100  # by chance a sample's lowest bit is clear every second time
CODED = "The sound is coded, so its samples have no word length."
COMPUTED = "The samples are floating-point numbers without a fixed step."
TOO_FEW = "The recording has hardly a sample that is not digital silence."


class ResolutionMeter:
    """Looks at samples only until the lowest bit has been seen in use, so true files cost nothing.

    `subtype` is what Source calls the coding.
    """

    def __init__(self, subtype: str) -> None:
        self._float = subtype in FLOATS
        self._most = FLOAT_BITS if self._float else WORD_BITS.get(subtype, 0)
        self._used = 1
        self._sounding = 0

    def add(self, block: np.ndarray) -> None:
        for samples in block:
            if self._used >= self._most:
                return
            self._sounding += int(np.count_nonzero(samples)) if self._sounding < LEAST_SAMPLES else 0
            while self._used < self._most and not kernels.on_grid(samples, 2.0 ** (self._used - 1)):
                self._used += 1

    def result(self) -> Resolution:
        if not self._most:
            return Resolution(None, CODED)
        if self._used < self._most and self._sounding < LEAST_SAMPLES:
            return Resolution(None, TOO_FEW)
        if self._float and self._used == FLOAT_BITS:
            return Resolution(None, COMPUTED)
        return Resolution(self._used, "")
