"""Whether a file other than WAV ends where its own header says: libsndfile is content with what is there."""

import struct
from collections.abc import Callable, Iterator
from typing import BinaryIO

from audio_qc.facts.file import StructureNote

OGG_PAGE_BYTES = 65_307  # the largest page (RFC 3533)
OGG_LAST_PAGE = 4  # in the flags of a page
AU_UNKNOWN_SIZE = 0xFFFFFFFF


def notes_on_the_end(file: BinaryIO, container: str, file_bytes: int) -> Iterator[StructureNote]:
    """Yield a note for a file that stops short of what its header or its last page promises."""
    if container == "OGG":
        yield from _ogg_notes(file, file_bytes)
        return
    promise = _PROMISES.get(container)
    if promise is None:
        return
    file.seek(0)
    promised = promise(file.read(24).ljust(24, b"\0"))
    if promised == 0:
        yield StructureNote("size-not-set", "The recorder never wrote how long the file is, as after a loss of power.")
    elif promised > file_bytes:
        held = f"The header promises a file of {promised} bytes and {file_bytes} of them are there."
        yield StructureNote("truncated", held)


def _ogg_notes(file: BinaryIO, file_bytes: int) -> Iterator[StructureNote]:
    file.seek(max(0, file_bytes - OGG_PAGE_BYTES))
    end = file.read(OGG_PAGE_BYTES)
    page = end.rfind(b"OggS\0")
    if page < 0 or page + 5 >= len(end) or not end[page + 5] & OGG_LAST_PAGE:
        yield StructureNote("truncated", "The last page of the stream is missing.")


def _aiff_bytes(head: bytes) -> int:
    size: int = struct.unpack(">I", head[4:8])[0]
    return size + 8 if size else 0


def _w64_bytes(head: bytes) -> int:
    size: int = struct.unpack("<Q", head[16:24])[0]
    return size


def _au_bytes(head: bytes) -> int:
    start, size = struct.unpack(">II", head[4:12])
    return 1 if size == AU_UNKNOWN_SIZE else start + size


_PROMISES: dict[str, Callable[[bytes], int]] = {"AIFF": _aiff_bytes, "W64": _w64_bytes, "AU": _au_bytes}
