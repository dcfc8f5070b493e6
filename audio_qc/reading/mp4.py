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
MAX_SAMPLES = 4_500_000  # a day of AAC at 48 kHz has 4.05 million packets
_PARENTS = {b"moov", b"trak", b"mdia", b"minf", b"stbl", b"moof", b"traf", b"edts"}
_TABLES = {b"stsz", b"stts", b"ctts", b"trun", b"stsc", b"stco", b"co64", b"stss"}


@dataclass(frozen=True)
class Box:
    """One box: its payload begins at `offset` and has `size` bytes, cut to what the file holds."""

    name: bytes
    offset: int
    size: int


def look_over(file: BinaryIO) -> None:
    """Raise BrokenHeader for a file without an index, or with one that no recording can have."""
    file_bytes = os.fstat(file.fileno()).st_size
    names, samples = set(), 0
    for box in _boxes(file, 0, file_bytes, MAX_DEPTH, [MAX_BOXES]):
        names.add(box.name)
        samples += _claimed_samples(file, box)
        if samples > MAX_SAMPLES:
            raise BrokenHeader("The index of this file claims more sound than a recording can have.")
    if not names & {b"moov", b"moof"}:
        raise BrokenHeader(
            "The recorder never wrote the index of this file, as when a battery dies, and without it the sound cannot "
            "be found."
        )


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


def _claimed_samples(file: BinaryIO, box: Box) -> int:
    """Return for how many samples FFmpeg would make room because of this box."""
    if box.name not in _TABLES:
        return 0
    file.seek(box.offset)
    head = file.read(min(box.size, 12)).ljust(12, b"\0")
    first, second = struct.unpack(">II", head[4:12])
    return second if box.name == b"stsz" else first
