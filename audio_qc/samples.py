"""The digest of a recording's samples: the same for the same sound, whatever file carries it.

A WAV and a FLAC made from it, a file with other texts in its header, or its chunks in another order have one digest.
"""

import hashlib
import os
from collections.abc import Callable

import numpy as np

from audio_qc.source import Source, open_source


class SamplesDigest:
    """SHA-256 over the rate, the number of channels, and each channel's samples as 64-bit floats of full scale 1.0.

    Every word length up to 32 bits is exact in these, and the length of the blocks makes no difference.
    """

    def __init__(self, source: Source) -> None:
        self._source = source
        self._channels = [hashlib.sha256() for _ in range(source.channels)]

    def add(self, block: np.ndarray) -> None:
        """Take the next block, float64 of shape (channels, frames)."""
        for digest, samples in zip(self._channels, block.astype("<f8", copy=False), strict=True):
            digest.update(np.ascontiguousarray(samples).data)

    def result(self) -> str:
        """Return the digest in hexadecimal."""
        whole = hashlib.sha256(f"{self._source.sample_rate_hz} Hz, {self._source.channels} channels".encode())
        for digest in self._channels:
            whole.update(digest.digest())
        return whole.hexdigest()


def samples_digest(path: str | os.PathLike[str], *, progress: Callable[[float], None] | None = None) -> str:
    """Decode a file to its end and return the digest of its samples, in hexadecimal; `progress` is told the share done.

    Raises a kind of Unreadable for a file that cannot be decoded.
    """
    source = open_source(path)
    try:
        digest = SamplesDigest(source)
        for block in source.blocks():
            digest.add(block)
            if progress:
                progress(source.share_of(source.frames_read))
        return digest.result()
    finally:
        source.close()
