"""Opens an audio file and yields its samples block by block; the only module that decodes.

A block is a float64 array of shape (channels, frames), C-contiguous, full scale 1.0. Every sample in it is a usable
number: what is not finite or beyond +120 dBFS is replaced by 0 and counted.
"""

import os
import queue
import threading
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np
import soundfile

from audio_qc.errors import BrokenHeader, EmptyFile, NoSound, NotAudio, Unreadable, UnsupportedFormat
from audio_qc.measurement import StructureNote
from audio_qc.riff import Riff, read_riff

BLOCK_FRAMES = 65_536  # half a megabyte a channel, which processors keep near; fewer cost calls, more cost memory
UNKNOWN_FRAMES = 2**63 - 1  # what libsndfile says of a stream whose header leaves the length open
MAX_CHANNELS = 8
LOWEST_RATE_HZ, HIGHEST_RATE_HZ = 4_000, 768_000  # telephones have 8 kHz, the fastest converters 768 kHz
LARGEST_USABLE = 1e6  # +120 dBFS: beyond any headroom a float recorder offers, so a damaged number

# SECURITY: libsndfile has parsers for many rare containers; strangers' bytes reach only those named here.
CONTAINERS = {"WAV", "WAVEX", "RF64", "W64", "AIFF", "AU", "CAF", "FLAC", "OGG", "MP3"}
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
}
READABLE_BEGINNINGS = (b"RIFF", b"RIFX", b"RF64", b"BW64", b"riff", b"FORM", b".snd", b"caff", b"fLaC", b"OggS", b"ID3")
OTHER_KINDS = (
    (4, b"ftyp", "an M4A, MP4 or 3GP file"),
    (0, bytes.fromhex("3026b2758e66cf11"), "a Windows Media file"),
    (0, b"#!AMR", "an AMR file"),
    (0, bytes.fromhex("1a45dfa3"), "a WebM or Matroska file"),
)


class _Forward(soundfile.SoundFile):
    """Reads from beginning to end only: seeking after each block fails where the length is not known."""

    def seekable(self) -> bool:
        return False


@dataclass
class Source:
    """One open sound file: its facts, its blocks once, and what was unusual while they were read."""

    file: BinaryIO
    container: str
    subtype: str
    sample_rate_hz: int
    channels: int
    claimed_frames: int | None
    file_bytes: int
    riff: Riff
    frames_read: int = 0
    unusable_samples: int = 0
    stopped_by: str = ""
    _sound: Any = field(default=None, repr=False)

    @property
    def bits_per_sample(self) -> int | None:
        """Return the word length, None for coded sound that has none."""
        return BITS.get(self.subtype)

    def blocks(self, block_frames: int = BLOCK_FRAMES) -> Iterator[np.ndarray]:
        """Yield the whole recording in order; a decoder that gives up ends it, and `structure()` says so."""
        while True:
            try:
                block = self._sound.read(block_frames, dtype="float64", always_2d=True)
            except soundfile.LibsndfileError as error:
                self.stopped_by = error.error_string
                return
            if not len(block):
                return
            self.frames_read += len(block)
            yield self._usable(np.ascontiguousarray(block.T))

    def share_of(self, frames: int) -> float:
        """Return the share of the recording that `frames` are, 0 to 1; 0 while its length is not known."""
        return min(1.0, frames / self.claimed_frames) if self.claimed_frames else 0.0

    def structure(self) -> tuple[StructureNote, ...]:
        """Return what the chunks and the reading showed: sound that stops short, samples that are no numbers."""
        return self.riff.structure + tuple(self._reading_notes())

    def _reading_notes(self) -> Iterator[StructureNote]:
        if self.stopped_by:
            yield StructureNote("damaged", f"The sound cannot be decoded past frame {self.frames_read}.")
        elif self.claimed_frames is not None and self.frames_read < self.claimed_frames:
            missing = self.claimed_frames - self.frames_read
            yield StructureNote("truncated", f"The file promises {missing} more frames of sound than it holds.")
        if self.unusable_samples:
            yield StructureNote(
                "unusable-samples", f"{self.unusable_samples} samples are not usable numbers and were taken as silence."
            )

    def close(self) -> None:
        """Let go of the file."""
        self._sound.close()
        self.file.close()

    def _usable(self, block: np.ndarray) -> np.ndarray:
        if self.subtype not in ("FLOAT", "DOUBLE"):
            return block
        usable = np.abs(block) <= LARGEST_USABLE  # False for NaN too
        if not usable.all():
            self.unusable_samples += int(block.size - np.count_nonzero(usable))
            block[~usable] = 0.0
        return block


def open_source(path: str | os.PathLike[str]) -> Source:
    """Open a sound file; raises a kind of Unreadable with one plain sentence."""
    path = Path(path)
    # SECURITY: a named pipe or device would be waited on for ever, so only ordinary files are opened.
    if not path.is_file():
        raise Unreadable("There is no such file.")
    try:
        # Unbuffered, because libsndfile reads through the same descriptor and its position must be the true one.
        file = path.open("rb", buffering=0)
    except OSError as error:
        raise Unreadable("The file could not be opened.") from error
    try:
        return _opened(file)
    except BaseException:
        file.close()
        raise


def _opened(file: BinaryIO) -> Source:
    _refuse_what_is_not_sound(file.read(16))
    riff = read_riff(file)
    file.seek(0)
    try:
        # By descriptor, not by name: neither library may then guess a headerless format from the file's ending.
        sound = _Forward(file.fileno(), closefd=False)
    except soundfile.LibsndfileError as error:
        raise BrokenHeader("The beginning of this sound file is damaged, so it cannot be read.") from error
    source = Source(
        file=file,
        container=sound.format,
        subtype=sound.subtype,
        sample_rate_hz=sound.samplerate,
        channels=sound.channels,
        claimed_frames=None if sound.frames == UNKNOWN_FRAMES else sound.frames,
        file_bytes=os.fstat(file.fileno()).st_size,
        riff=riff,
        _sound=sound,
    )
    try:
        _refuse_what_cannot_be_measured(source)
    except Unreadable:
        sound.close()
        raise
    return source


def _refuse_what_is_not_sound(head: bytes) -> None:
    if not head:
        raise EmptyFile("The file is empty: it has no bytes at all.")
    for offset, magic, kind in OTHER_KINDS:
        if head[offset : offset + len(magic)] == magic:
            raise UnsupportedFormat(f"This is {kind}, a kind of sound file that cannot be measured here.")
    if head.startswith(READABLE_BEGINNINGS) or _begins_like_mp3(head):
        return
    raise NotAudio("This is not a sound file: it does not begin like one, whatever its name says.")


def _begins_like_mp3(head: bytes) -> bool:
    """MPEG audio frames begin with eleven set bits; layer 00 would be AAC."""
    return len(head) > 1 and head[0] == 0xFF and head[1] & 0xE0 == 0xE0 and head[1] & 0x06 != 0


def _refuse_what_cannot_be_measured(source: Source) -> None:
    if source.container not in CONTAINERS:
        raise UnsupportedFormat("This kind of sound file cannot be measured here.")
    if source.channels > MAX_CHANNELS:
        raise UnsupportedFormat(
            f"This file says that it has {source.channels} channels; at most {MAX_CHANNELS} can be measured."
        )
    if not LOWEST_RATE_HZ <= source.sample_rate_hz <= HIGHEST_RATE_HZ:
        raise UnsupportedFormat(
            f"This file says that it has {source.sample_rate_hz} samples a second, which no sound recorder makes."
        )
    if source.claimed_frames is not None and source.claimed_frames <= 0:
        if any(note.code == "size-not-set" for note in source.riff.structure):
            raise BrokenHeader(
                "The recorder stopped before it wrote how long the sound is, as when a battery dies, so this file "
                "cannot be read as it stands."
            )
        raise NoSound("The file has the beginning of a sound file and no sound in it.")


class _Stop:
    """Put after the last block; carries the error that ended the reading, if one did."""

    def __init__(self, error: BaseException | None = None) -> None:
        self.error = error


def read_ahead(blocks: Iterator[np.ndarray], depth: int = 4) -> Iterator[np.ndarray]:
    """Yield the same blocks, decoded on a second thread at most `depth` blocks ahead of their use."""
    waiting: queue.Queue[np.ndarray | _Stop] = queue.Queue(depth)
    abandoned = threading.Event()
    thread = threading.Thread(target=_fill, args=(blocks, waiting, abandoned), daemon=True)
    thread.start()
    try:
        while not isinstance(item := waiting.get(), _Stop):
            yield item
        if item.error is not None:
            raise item.error
    finally:
        abandoned.set()
        thread.join()


def _fill(blocks: Iterator[np.ndarray], waiting: "queue.Queue[np.ndarray | _Stop]", abandoned: threading.Event) -> None:
    stop = _Stop()
    try:
        for block in blocks:
            if not _put(waiting, block, abandoned):
                return
    except BaseException as error:  # noqa: BLE001 - raised again on the thread that measures
        stop = _Stop(error)
    _put(waiting, stop, abandoned)


def _put(waiting: "queue.Queue[np.ndarray | _Stop]", item: "np.ndarray | _Stop", abandoned: threading.Event) -> bool:
    """Wait for room; False when nobody takes blocks any more."""
    while not abandoned.is_set():
        try:
            waiting.put(item, timeout=0.2)
        except queue.Full:
            continue
        return True
    return False
