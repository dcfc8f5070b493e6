"""What both decoding libraries give: the facts of one open recording and its samples in blocks."""

from collections.abc import Iterator
from typing import Protocol

import numpy as np

from audio_qc.facts.file import InfoText, StructureNote
from audio_qc.reading.details import StoredMark

BLOCK_FRAMES = 65_536  # half a megabyte a channel, which processors keep near; fewer cost calls, more cost memory
MISSING_S = 1.0  # durations of coded sound are rounded and padded: a shorter end is no sign of damage
MAX_TAGS = 100
MAX_TAG_SIGNS = 2_000


class Decoder(Protocol):
    """One open recording. A block is float64 of shape (channels, frames), C-contiguous, full scale 1.0."""

    container: str
    subtype: str
    sample_rate_hz: int
    channels: int
    bits_per_sample: int | None
    claimed_frames: int | None
    stopped_by: str

    def blocks(self, block_frames: int) -> Iterator[np.ndarray]:
        """Yield the sound in order, once; a decoder that gives up ends it and says in `stopped_by` why."""

    def notes(self, frames_read: int) -> Iterator[StructureNote]:
        """Yield what was odd, once the sound has been read."""

    def tags(self) -> tuple[InfoText, ...]:
        """Return the texts that the file carries about itself."""

    def marks(self) -> tuple[StoredMark, ...]:
        """Return chapters and the like."""

    def close(self) -> None:
        """Let go of the decoder, not of the file."""
