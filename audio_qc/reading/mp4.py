"""Looks over the boxes of an MP4, M4A, 3GP or QuickTime file before FFmpeg does.

SECURITY: an index of a few bytes can claim a thousand million samples, and FFmpeg makes room for each of them. Here the
counts are held against what a recording can have, so that memory stays bounded.
"""

import os
import struct
from collections.abc import Iterator
from dataclasses import dataclass
from typing import BinaryIO

from audio_qc.errors import BrokenHeader

MAX_BOXES = 200_000
MAX_DEPTH = 8
MAX_SAMPLES = 4_500_000  # a day of AAC at 48 kHz has 4.05 million packets; FFmpeg needs about 40 bytes for each
MAX_TABLE_BYTES = 1_048_576
UNCODED_PACKET_FRAMES = 1_024  # FFmpeg reads uncoded sound in packets of about so many frames
_PARENTS = {b"moov", b"trak", b"mdia", b"minf", b"stbl", b"moof", b"traf", b"edts"}


@dataclass(frozen=True)
class Box:
    """One box: its payload begins at `offset` and has `size` bytes, cut to what the file holds."""

    name: bytes
    offset: int
    size: int


@dataclass
class _Track:
    """What the boxes of one track claim."""

    samples: int = 0
    chunks: int = 0
    largest_chunk: int = 0
    is_sound: bool = False
    has_unit_steps: bool = False

    def packets(self) -> int:
        """Return for how many packets FFmpeg makes room: of uncoded sound, frames are read many at a time."""
        if self.is_sound and self.has_unit_steps:
            return self.largest_chunk * self.chunks // UNCODED_PACKET_FRAMES
        return self.samples

    def take(self, file: BinaryIO, box: Box) -> None:
        """Note what a box of this track claims."""
        file.seek(box.offset)
        head = file.read(min(box.size, 16)).ljust(16, b"\0")
        first, second, third = struct.unpack(">III", head[4:16])
        if box.name == b"hdlr" and head[8:12] in (b"soun", b"vide"):
            self.is_sound = head[8:12] == b"soun"
        elif box.name == b"stsz":
            self.samples += second
        elif box.name == b"trun":
            self.samples += first
        elif box.name in (b"stco", b"co64"):
            self.chunks += first
        elif box.name == b"stts":
            self.has_unit_steps = (first, third) == (1, 1)
        elif box.name == b"stsc":
            self.largest_chunk = max(self.largest_chunk, _largest_chunk(file, box))


def look_over(file: BinaryIO) -> None:
    """Raise BrokenHeader for a file without an index, or with one that no recording can have."""
    file_bytes = os.fstat(file.fileno()).st_size
    names, tracks = set(), [_Track()]
    for box in _boxes(file, 0, file_bytes, MAX_DEPTH, [MAX_BOXES]):
        names.add(box.name)
        if box.name in (b"trak", b"traf"):
            tracks.append(_Track())
        tracks[-1].take(file, box)
    if sum(track.packets() for track in tracks) > MAX_SAMPLES:
        raise BrokenHeader("The index of this file claims more sound than a recording can have.")
    if not names & {b"moov", b"moof"}:
        raise BrokenHeader(
            "The recorder never wrote the index of this file, as when a battery dies, and without it the sound cannot "
            "be found."
        )


def _largest_chunk(file: BinaryIO, box: Box) -> int:
    """Return the most samples that one chunk is said to have: the second of three numbers in each entry."""
    file.seek(box.offset + 8)
    table = file.read(min(box.size, MAX_TABLE_BYTES))
    numbers = struct.unpack(f">{len(table) // 12 * 3}I", table[: len(table) // 12 * 12])
    return max(numbers[1::3], default=0)


def _boxes(file: BinaryIO, start: int, end: int, depth: int, left: list[int]) -> Iterator[Box]:
    while start + 8 <= end and left[0] > 0 and depth > 0:
        left[0] -= 1
        file.seek(start)
        head = file.read(16).ljust(16, b"\0")
        size, name, header = struct.unpack(">I", head[:4])[0], head[4:8], 8
        if size == 1:
            size, header = struct.unpack(">Q", head[8:16])[0], 16
        elif size == 0:
            size = end - start
        if size < header:
            return
        box = Box(name, start + header, min(size, end - start) - header)
        yield box
        if name in _PARENTS:
            yield from _boxes(file, box.offset, box.offset + box.size, depth - 1, left)
        start += size
