"""Opens an audio file and yields its samples block by block: chooses what reads it and refuses what nothing should.

A block is a float64 array of shape (channels, frames), C-contiguous, full scale 1.0. Every sample in it is a usable
number: what is not finite or beyond +120 dBFS is replaced by 0 and counted.
"""

import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, NoReturn

import numpy as np

from audio_qc.errors import BrokenHeader, EmptyFile, NoSound, NotAudio, Unreadable, UnsupportedFormat
from audio_qc.facts.file import Details, Mark, StructureNote
from audio_qc.reading.decoder import BLOCK_FRAMES, Decoder
from audio_qc.reading.details import Written, placed_marks, read_written
from audio_qc.reading.endings import notes_on_the_end
from audio_qc.reading.kinds import HEAD_BYTES, MP3, WAV, Kind, id3_bytes, kind_of
from audio_qc.reading.mended import MendedWav
from audio_qc.reading.mp4 import look_over
from audio_qc.reading.pyav import MAX_CHANNELS, PyAVDecoder
from audio_qc.reading.riff import HIGHEST_RATE_HZ, LOWEST_RATE_HZ, WavPlan, read_plan
from audio_qc.reading.sndfile import CannotDecode, SndfileDecoder

LARGEST_USABLE = 1e6  # +120 dBFS: beyond any headroom a float recorder offers, so a damaged number

# SECURITY: libsndfile has parsers for many rare containers; strangers' bytes reach only those named here.
CONTAINERS = {"WAV", "WAVEX", "RF64", "W64", "AIFF", "AU", "CAF", "FLAC", "OGG", "MP3"}
CODED_AS_NUMBERS = ("FLOAT", "DOUBLE")  # every other coding gives usable numbers by its nature


@dataclass
class Source:
    """One open sound file: its facts, its blocks once, and what was unusual while they were read."""

    file: BinaryIO
    decoder: Decoder
    file_bytes: int
    plan: WavPlan | None
    written: Written
    end_notes: tuple[StructureNote, ...] = ()
    frames_read: int = 0
    unusable_samples: int = 0

    @property
    def sample_rate_hz(self) -> int:
        """Return the sample rate."""
        return self.decoder.sample_rate_hz

    @property
    def channels(self) -> int:
        """Return the number of channels."""
        return self.decoder.channels

    def blocks(self, block_frames: int = BLOCK_FRAMES) -> Iterator[np.ndarray]:
        """Yield the whole recording in order; a decoder that gives up ends it, and `structure()` says so."""
        for block in self.decoder.blocks(block_frames):
            self.frames_read += block.shape[1]
            yield self._usable(block)

    def share_of(self, frames: int) -> float:
        """Return the share of the recording that `frames` are, 0 to 1; 0 while its length is not known."""
        claimed = self.decoder.claimed_frames
        return min(1.0, frames / claimed) if claimed else 0.0

    def structure(self) -> tuple[StructureNote, ...]:
        """Return what the chunks and the reading showed: sound that stops short, samples that are no numbers."""
        return self.structure_by_header() + tuple(self._reading_notes())

    def structure_by_header(self) -> tuple[StructureNote, ...]:
        """Return what showed before the sound was read."""
        return (self.plan.structure if self.plan else ()) + self.end_notes

    def marks(self) -> tuple[Mark, ...]:
        """Return the marks and chapters that lie inside the sound that was read, or else that the file claims."""
        frames = self.frames_read or self.decoder.claimed_frames or 0
        return placed_marks(self.written.marks + self.decoder.marks(), self.sample_rate_hz, frames)

    def details(self) -> Details:
        """Return what the recorder wrote about the recording."""
        known = self.written.details
        return Details(known.broadcast, known.info, known.ixml, self.decoder.tags())

    def close(self) -> None:
        """Let go of the file."""
        self.decoder.close()
        self.file.close()

    def _reading_notes(self) -> Iterator[StructureNote]:
        if self.decoder.stopped_by:
            yield StructureNote("damaged", f"The sound cannot be decoded past frame {self.frames_read}.")
        yield from self.decoder.notes(self.frames_read)
        if self.unusable_samples:
            yield StructureNote(
                "unusable-samples", f"{self.unusable_samples} samples are not usable numbers and were taken as silence."
            )

    def _usable(self, block: np.ndarray) -> np.ndarray:
        if self.decoder.subtype not in CODED_AS_NUMBERS:
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
    head = file.read(HEAD_BYTES)
    if not head:
        raise EmptyFile("The file is empty: it has no bytes at all.")
    file_bytes = os.fstat(file.fileno()).st_size
    kind = kind_of(head) or _kind_behind_id3(file, head) or WAV
    plan = read_plan(file, file_bytes) if kind == WAV else None
    if plan is None and kind == WAV and not head.startswith((b"RIFF", b"RIFX", b"RF64", b"BW64")):
        _refuse_what_is_not_sound(head)
    written = read_written(file, plan) if plan else Written()
    end_notes = tuple(notes_on_the_end(file, kind.container, file_bytes))
    decoder = _decoder(file, kind, plan)
    source = Source(file, decoder, file_bytes, plan, written, end_notes)
    try:
        _refuse_what_cannot_be_measured(source)
    except Unreadable:
        decoder.close()
        raise
    return source


def _refuse_what_is_not_sound(head: bytes) -> NoReturn:
    if not any(head):
        raise BrokenHeader(
            "The beginning of this file holds nothing but zeros, as when a card is pulled out too early, and the sound "
            "cannot be found without it."
        )
    raise NotAudio("This is not a sound file: it does not begin like one, whatever its name says.")


def _kind_behind_id3(file: BinaryIO, head: bytes) -> Kind | None:
    """ID3 tags stand before MP3, and by mistake before AAC and FLAC too."""
    length = id3_bytes(head)
    if not length:
        return None
    file.seek(length)
    return kind_of(file.read(HEAD_BYTES)) or MP3


def _decoder(file: BinaryIO, kind: Kind, plan: WavPlan | None) -> Decoder:
    """Return the first that can read the file: libsndfile with its own header, with a true one, PyAV."""
    if kind.demuxer == "mov":
        look_over(file)
    if plan is not None and plan.has_sound and plan.needs_mending:
        attempts = [_mended, _as_it_is, _by_pyav]
    elif kind.by_libsndfile:
        attempts = [_as_it_is, _mended, _by_pyav]
    else:
        attempts = [_by_pyav]
    for attempt in attempts:
        try:
            return attempt(file, kind, plan)
        except CannotDecode:
            continue
    raise BrokenHeader("The beginning of this sound file is damaged, so it cannot be read.")


def _as_it_is(file: BinaryIO, kind: Kind, plan: WavPlan | None) -> Decoder:
    file.seek(0)
    # By descriptor, not by name: neither library may then guess a headerless format from the file's ending.
    return SndfileDecoder(file.fileno())


def _mended(file: BinaryIO, kind: Kind, plan: WavPlan | None) -> Decoder:
    if plan is None or not plan.has_sound:
        raise CannotDecode
    return SndfileDecoder(MendedWav(file, plan))


def _by_pyav(file: BinaryIO, kind: Kind, plan: WavPlan | None) -> Decoder:
    if not kind.demuxer or (kind == WAV and not (plan and plan.has_sound)):
        raise CannotDecode
    return PyAVDecoder(MendedWav(file, plan) if plan and plan.needs_mending else file, kind)


def _refuse_what_cannot_be_measured(source: Source) -> None:
    decoder = source.decoder
    if isinstance(decoder, SndfileDecoder) and decoder.container not in CONTAINERS:
        raise UnsupportedFormat("This kind of sound file cannot be measured here.")
    if decoder.channels > MAX_CHANNELS:
        raise UnsupportedFormat(
            f"This file says that it has {decoder.channels} channels; at most {MAX_CHANNELS} can be measured."
        )
    if not LOWEST_RATE_HZ <= decoder.sample_rate_hz <= HIGHEST_RATE_HZ:
        raise UnsupportedFormat(
            f"This file says that it has {decoder.sample_rate_hz} samples a second, which no sound recorder makes."
        )
    if decoder.claimed_frames is not None and decoder.claimed_frames <= 0:
        raise NoSound("The file has the beginning of a sound file and no sound in it.")
