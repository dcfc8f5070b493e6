"""Finds the chunks of a WAV, RIFX, RF64 or BW64 file, also where its header is damaged, and says what is odd.

The result is a plan of the file: its true `fmt ` and where its sound lies. libsndfile decodes by the file's own header
where that will do; where not, `needs_mending` is true and it gets a true header made from the plan (mended.py).

SECURITY: the bytes come from strangers. The number of chunks and the bytes searched for lost ones are bounded, and no
size in the file is used to allocate memory before it is cut to what the file really holds.
"""

import re
import struct
from dataclasses import dataclass
from typing import BinaryIO

from audio_qc.facts.file import StructureNote

LOWEST_RATE_HZ, HIGHEST_RATE_HZ = 4_000, 768_000  # telephones have 8 kHz, the fastest converters 768 kHz
MAX_CHUNKS = 2_000
MAX_SEARCHED_BYTES = 1_048_576
UNSET_SIZE = 0xFFFFFFFF
FORMS = (b"RIFF", b"RIFX", b"RF64", b"BW64")
LARGE_FORMS = (b"RF64", b"BW64")
KNOWN_CHUNKS = {
    b"fmt ", b"data", b"ds64", b"bext", b"iXML", b"LIST", b"cue ", b"fact", b"JUNK", b"junk", b"PAD ", b"FLLR", b"PEAK",
    b"smpl", b"inst", b"plst", b"axml", b"chna", b"_PMX", b"id3 ", b"ID3 ", b"umid", b"cart", b"levl", b"qlty", b"r64m",
}  # fmt: skip
_LOST_CHUNK = re.compile(rb"fmt |data|bext|iXML|LIST|cue |fact|ds64|JUNK")
# wFormatTag and the bytes of `fmt ` that a decoder needs: uncoded PCM and float, A-law and mu-law, extensible.
PCM_TAG, FLOAT_TAG, EXTENSIBLE_TAG = 1, 3, 0xFFFE
_FMT_BYTES = {PCM_TAG: 16, FLOAT_TAG: 16, 6: 16, 7: 16, EXTENSIBLE_TAG: 40}
_MAX_FMT_BYTES = 64
_TASTED_BYTES = 65_536
_PLAIN_ODDITIES = {"truncated", "trailing-bytes"}  # with these the file's own header serves


@dataclass(frozen=True)
class Chunk:
    """One chunk: `size` is what its header claims, `readable` what the file holds of it."""

    name: bytes
    offset: int
    size: int
    readable: int


@dataclass(frozen=True)
class WavPlan:
    """How the file is built. `fmt` is the part of its `fmt ` that a decoder needs, b"" where there is none."""

    form: bytes
    order: str
    chunks: tuple[Chunk, ...]
    fmt: bytes
    sound_offset: int
    sound_bytes: int
    structure: tuple[StructureNote, ...]

    @property
    def has_sound(self) -> bool:
        """Whether the plan is enough to decode by."""
        return bool(self.fmt) and self.sound_bytes > 0

    @property
    def needs_mending(self) -> bool:
        """Whether the file's own header would mislead a decoder."""
        return any(note.code not in _PLAIN_ODDITIES for note in self.structure)


def read_plan(file: BinaryIO, file_bytes: int) -> WavPlan | None:
    """Return the plan of a WAV file; None where nothing is found that could be one."""
    file.seek(0)
    head = file.read(12)
    notes: list[StructureNote] = []
    form, start = head[:4], 12
    if head[8:12] != b"WAVE":
        form, start = b"", _first_fmt(file)
        if not start:
            return None
    if head[:4] not in FORMS or head[8:12] != b"WAVE":
        notes.append(StructureNote("no-riff-id", "The first bytes, which say that this is a WAV file, are damaged."))
    order = ">" if form == b"RIFX" else "<"
    walk = _Walk(file, order, file_bytes, notes)
    walk.run(start)
    return walk.plan(form)


def plausible_fmt(fmt: bytes, order: str = "<") -> bool:
    """Whether these bytes say something that a recorder would: a known coding, a few channels, a usable rate."""
    if len(fmt) < 16:
        return False
    tag, channels, rate_hz, _, frame_bytes, bits = struct.unpack_from(order + "HHIIHH", fmt)
    return tag in _FMT_BYTES and 1 <= channels <= 8 and _is_rate(rate_hz) and frame_bytes > 0 and bits > 0


def _first_fmt(file: BinaryIO) -> int:
    """Return where a believable `fmt ` chunk begins, 0 when there is none: for files whose first bytes are lost."""
    file.seek(0)
    data = file.read(MAX_SEARCHED_BYTES)
    for found in re.finditer(rb"fmt ", data):
        if plausible_fmt(data[found.end() + 4 : found.end() + 20]) and data.find(b"data", found.end()) > 0:
            return found.start()
    return 0


class _Walk:
    """One walk from chunk to chunk; stops at the sound when nothing can be found behind it."""

    def __init__(self, file: BinaryIO, order: str, file_bytes: int, notes: list[StructureNote]) -> None:
        self.file, self.order, self.file_bytes, self.notes = file, order, file_bytes, notes
        self.chunks: list[Chunk] = []
        self.fmt = b""
        self.large_data: int | None = None
        self.data: Chunk | None = None
        self.size_is_known = True

    def run(self, start: int) -> None:
        """Collect the chunks from `start` on."""
        offset = start
        while len(self.chunks) < MAX_CHUNKS:
            name, size = self._header(offset)
            if not _is_name(name):
                if self.data is not None or not (offset := self._lost_chunk(offset)):
                    return
                name, size = self._header(offset)
            chunk = self._taken(name, offset + 8, size)
            if not self.size_is_known:
                return
            offset = self._end(chunk)

    def plan(self, form: bytes) -> WavPlan:
        """Return what was found, with a note for everything odd."""
        has_sizes = any(chunk.name == b"ds64" for chunk in self.chunks)
        if form not in FORMS:
            form = b"RF64" if has_sizes else b"RIFF"
        if form in LARGE_FORMS and not has_sizes:
            self._note("no-ds64", "The file says that it is RF64, and the ds64 chunk with its sizes is missing.")
        self._note_the_sound()
        self._note_the_end()
        return WavPlan(
            form=form,
            order=self.order,
            chunks=tuple(self.chunks),
            fmt=self._true_fmt(),
            sound_offset=self.data.offset if self.data else 0,
            sound_bytes=self.data.readable if self.data else 0,
            structure=tuple(self.notes),
        )

    def _note(self, code: str, detail: str) -> None:
        if not any(note.code == code for note in self.notes):
            self.notes.append(StructureNote(code, detail))

    def _header(self, offset: int) -> tuple[bytes, int]:
        if offset + 8 > self.file_bytes:  # and no seek is asked for a place that no file can have
            return b"", 0
        self.file.seek(offset)
        header = self.file.read(8)
        return header[:4], struct.unpack(self.order + "I", header[4:])[0]

    def _payload(self, offset: int, size: int) -> bytes:
        self.file.seek(offset)
        return self.file.read(size)

    def _taken(self, name: bytes, start: int, size: int) -> Chunk:
        if name == b"ds64" and size >= 16 and self.large_data is None:
            self.large_data = struct.unpack(self.order + "8xQ", self._payload(start, 16).ljust(16, b"\0"))[0]
        if name == b"fmt " and not self.fmt:
            self.fmt = self._payload(start, _MAX_FMT_BYTES)
        is_sound = name == b"data" and self.data is None
        if is_sound:
            size = self._sound_bytes(start, size)
        chunk = Chunk(name, start, size, max(0, min(size, self.file_bytes - start)))
        self.chunks.append(chunk)
        if is_sound and (size or not self._is_followed_by_a_chunk(start)):
            self.data = chunk
        return chunk

    def _end(self, chunk: Chunk) -> int:
        """Return where the next chunk begins: behind a pad byte after an odd size, unless the writer forgot it."""
        end = chunk.offset + chunk.size
        if chunk.size % 2 and self._header(end)[0] in KNOWN_CHUNKS:
            self._note("no-pad-byte", "A chunk of odd length lacks the byte that should follow it.")
            return end
        return end + chunk.size % 2

    def _lost_chunk(self, offset: int) -> int:
        """Return where the next known chunk begins when the walk has lost its way before the sound, else 0."""
        last = self.chunks[-1] if self.chunks else None
        start = min(offset, last.offset) if last else offset
        found = _LOST_CHUNK.search(self._payload(start, MAX_SEARCHED_BYTES))
        if found is None:
            return 0
        place = start + found.start()
        lies = last is not None and (place < last.offset + last.size or (last.name == b"fmt " and last.size < 14))
        if last is not None and lies and last.name == b"fmt ":
            self._note("fmt-wrong", f"The fmt chunk claims {last.size} bytes, which is not how long it is.")
        else:
            self._note("junk-before-sound", "Bytes that belong to no chunk stand before the sound.")
        return place

    def _sound_bytes(self, start: int, size: int) -> int:
        """Return the true size of the sound, as far as it can be known."""
        held = max(0, self.file_bytes - start)
        if size == UNSET_SIZE and self.large_data:
            size = self.large_data
        if size == UNSET_SIZE or (size == 0 and held > 0 and not self._is_followed_by_a_chunk(start)):
            self.size_is_known = False
            return held
        if held > UNSET_SIZE and size <= UNSET_SIZE and not self._closes_at(start + size):
            return self._unwrapped(start, size, held)
        if self._sound_goes_on(start + size + size % 2):
            self._note("size-too-small", f"The header tells of {size} bytes of sound, and {held} bytes are there.")
            return held
        return size

    def _sound_goes_on(self, end: int) -> bool:
        """Whether a second or more follows that is no chunk: some recorders write the size now and then, not last."""
        rest = self.file_bytes - end
        second = struct.unpack_from(self.order + "I", self.fmt, 8)[0] if len(self.fmt) >= 16 else 0
        if not 0 < second <= rest or self._header(end - 1)[0] in KNOWN_CHUNKS:
            return False
        name, size = self._header(end)
        is_chunk = name in KNOWN_CHUNKS or (_is_name(name) and end + 8 + size <= self.file_bytes)
        return not is_chunk and name[:3] not in (b"ID3", b"TAG") and any(self._payload(end, _TASTED_BYTES))

    def _is_followed_by_a_chunk(self, start: int) -> bool:
        name, size = self._header(start)
        return name in KNOWN_CHUNKS and start + 8 + size <= self.file_bytes

    def _closes_at(self, end: int) -> bool:
        return self.file_bytes - end <= 1 or self._header(end + end % 2)[0] in KNOWN_CHUNKS

    def _unwrapped(self, start: int, size: int, held: int) -> int:
        """The size field has 32 bits: some recorders write what is left of a larger size in it."""
        self._note("size-wrapped", "The sound is longer than the 4 GiB that its header can tell.")
        wraps = range(size + 2**32, held + 1, 2**32)
        return next((true for true in wraps if self._closes_at(start + true)), held)

    def _true_fmt(self) -> bytes:
        if len(self.fmt) < 16:
            return b""
        tag, channels, rate_hz, rate_bytes, frame_bytes, bits = struct.unpack_from(self.order + "HHIIHH", self.fmt)
        known = _FMT_BYTES.get(tag)
        if known is None:
            chunk = next(chunk for chunk in self.chunks if chunk.name == b"fmt ")
            return self.fmt[: min(max(16, chunk.size), _MAX_FMT_BYTES)]
        if tag not in (PCM_TAG, FLOAT_TAG):
            return self.fmt[:known]
        true_frame_bytes = self._frame_bytes(channels, frame_bytes, bits)
        true_rate_hz = self._rate_hz(rate_hz, rate_bytes, true_frame_bytes)
        if (true_frame_bytes, true_rate_hz) == (frame_bytes, rate_hz) or not 0 < true_frame_bytes <= 0xFFFF:
            return self.fmt[:known]
        rate_bytes = min(true_rate_hz * true_frame_bytes, UNSET_SIZE)
        return struct.pack(self.order + "HHIIHH", tag, channels, true_rate_hz, rate_bytes, true_frame_bytes, bits)

    def _frame_bytes(self, channels: int, frame_bytes: int, bits: int) -> int:
        """A frame that holds its samples in wider words is legal; one that is too small for them is a mistake."""
        needed = channels * ((bits + 7) // 8)
        if frame_bytes == needed or (channels and frame_bytes > needed and frame_bytes % channels == 0):
            return frame_bytes
        self._note("fmt-wrong", f"A frame cannot have {frame_bytes} bytes with {channels} channels of {bits} bits.")
        return needed

    def _rate_hz(self, rate_hz: int, rate_bytes: int, frame_bytes: int) -> int:
        """The rate is written twice: where one cannot be true and the other can, that is taken."""
        second = rate_bytes // frame_bytes if frame_bytes else 0
        if _is_rate(rate_hz) or not _is_rate(second):
            return rate_hz
        self._note("fmt-wrong", f"The header says {rate_hz} samples a second, and {second} by its bytes a second.")
        return second

    def _note_the_sound(self) -> None:
        data = self.data
        if data is None:
            return
        if not self.size_is_known:
            self._note("size-not-set", "The recorder never wrote how long the sound is, as after a loss of power.")
        elif data.readable < data.size:
            held = f"The header promises {data.size} bytes of sound and the file holds {data.readable} of them."
            self._note("truncated", held)

    def _note_the_end(self) -> None:
        if self.data is None:
            return
        end = self.chunks[-1].offset + self.chunks[-1].size
        if self.file_bytes - end > 1:
            self._note("trailing-bytes", f"{self.file_bytes - end} bytes follow the last chunk.")


def _is_rate(rate_hz: int) -> bool:
    return LOWEST_RATE_HZ <= rate_hz <= HIGHEST_RATE_HZ


def _is_name(name: bytes) -> bool:
    return len(name) == 4 and all(0x20 <= byte <= 0x7E for byte in name)
