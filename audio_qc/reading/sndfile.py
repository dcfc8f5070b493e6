"""Decodes through libsndfile: WAV, RF64, AIFF, FLAC, Ogg, MP3 and their kin."""

from collections.abc import Iterator
from io import RawIOBase
from typing import Any

import numpy as np
import soundfile

from audio_qc.facts.file import InfoText, StructureNote
from audio_qc.reading.decoder import MAX_TAG_SIGNS, MISSING_S
from audio_qc.reading.details import StoredMark, printable

UNKNOWN_FRAMES = 2**63 - 1  # what libsndfile says of a stream whose header leaves the length open
BITS = {
    "PCM_S8": 8,
    "PCM_U8": 8,
    "PCM_16": 16,
    "PCM_24": 24,
    "PCM_32": 32,
    "FLOAT": 32,
    "DOUBLE": 64,
    "ULAW": 8,
    "ALAW": 8,
    "ALAC_16": 16,
    "ALAC_20": 20,
    "ALAC_24": 24,
    "ALAC_32": 32,
}
_RIFF_KINDS = ("WAV", "WAVEX", "RF64")  # whose texts are read from their chunks


class CannotDecode(Exception):
    """The library does not know what to make of these bytes."""


class _Forward(soundfile.SoundFile):
    """Reads from beginning to end only: seeking after each block fails where the length is not known."""

    def seekable(self) -> bool:
        return False


class SndfileDecoder:
    """One recording in libsndfile's hands; raises CannotDecode for what it does not read."""

    def __init__(self, file: RawIOBase | int) -> None:
        try:
            self._sound: Any = _Forward(file, closefd=False)
        except (soundfile.LibsndfileError, TypeError) as error:
            raise CannotDecode from error
        self.container: str = self._sound.format
        self.subtype: str = self._sound.subtype
        self.sample_rate_hz: int = self._sound.samplerate
        self.channels: int = self._sound.channels
        self.bits_per_sample = BITS.get(self.subtype)
        frames = self._sound.frames
        self.claimed_frames = None if frames == UNKNOWN_FRAMES else frames
        self.stopped_by = ""

    def blocks(self, block_frames: int) -> Iterator[np.ndarray]:
        """Yield the sound in order."""
        done = 0
        room = np.empty((block_frames, self.channels))
        while True:
            try:
                block = self._sound.read(out=room)
            except soundfile.LibsndfileError as error:
                self.stopped_by = error.error_string or "error"
                block = room[: max(0, self._decoded_frames() - done)]
            if len(block):
                done += len(block)
                yield block.T.copy(order="C")
            if self.stopped_by or not len(block):
                return

    def _decoded_frames(self) -> int:
        """Return how far the decoder came before it gave up in the middle of a block."""
        try:
            return int(self._sound.tell())
        except soundfile.LibsndfileError:  # some codings cannot tell: their last block is lost
            return 0

    def notes(self, frames_read: int) -> Iterator[StructureNote]:
        """Yield a note when less came than was promised."""
        missing = (self.claimed_frames or 0) - frames_read
        rounding = 0 if self.bits_per_sample else MISSING_S * self.sample_rate_hz
        if missing > rounding and not self.stopped_by:
            yield StructureNote("truncated", f"The file promises {missing} more frames of sound than it holds.")

    def tags(self) -> tuple[InfoText, ...]:
        """Return title, artist and the like from ID3, Vorbis comments and AIFF texts."""
        if self.container in _RIFF_KINDS:
            return ()
        texts = {name: printable(text[:MAX_TAG_SIGNS]) for name, text in self._sound.copy_metadata().items()}
        return tuple(InfoText(name, text) for name, text in texts.items() if text)

    def marks(self) -> tuple[StoredMark, ...]:
        """Return nothing: marks of WAV files are read from their chunks."""
        return ()

    def close(self) -> None:
        """Let go of libsndfile's handle."""
        self._sound.close()
