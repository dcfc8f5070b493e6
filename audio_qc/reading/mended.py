"""A true WAV header, and a view of a damaged file that begins with one; the file itself is never written to."""

import io
import struct
from typing import BinaryIO

from audio_qc.reading.riff import LARGE_FORMS, UNSET_SIZE, WavPlan

_SIZES_BYTES = 28  # EBU Tech 3306: the ds64 chunk has three sizes of 64 bits and an empty table


def true_header(plan: WavPlan, sound_bytes: int, kept_bytes: int = 0) -> tuple[bytes, bytes]:
    """Return what stands before the kept chunks (of `kept_bytes`), and the eight bytes before the sound.

    RF64 where the file was RF64 or BW64 or is too large for RIFF, else RIFF or RIFX as it was. Its length is the same
    for every length of sound: where there is no ds64 chunk a JUNK chunk keeps its place (EBU Tech 3306).
    """
    fmt = b"fmt " + struct.pack(plan.order + "I", len(plan.fmt)) + plan.fmt
    size = 4 + 8 + _SIZES_BYTES + len(fmt) + kept_bytes + 8 + sound_bytes + sound_bytes % 2
    if plan.order == "<" and (plan.form in LARGE_FORMS or size > UNSET_SIZE):
        sizes = struct.pack("<4sIQQQI", b"ds64", _SIZES_BYTES, size, sound_bytes, 0, 0)
        return b"RF64" + struct.pack("<I", UNSET_SIZE) + b"WAVE" + sizes + fmt, b"data" + struct.pack("<I", UNSET_SIZE)
    form = b"RIFX" if plan.order == ">" else b"RIFF"
    kept_place = b"JUNK" + struct.pack(plan.order + "I", _SIZES_BYTES) + bytes(_SIZES_BYTES)
    front = form + struct.pack(plan.order + "I", min(size, UNSET_SIZE)) + b"WAVE" + kept_place + fmt
    return front, b"data" + struct.pack(plan.order + "I", min(sound_bytes, UNSET_SIZE))


class MendedWav(io.RawIOBase):
    """A true header followed by the sound where it lies in the damaged file; read-only."""

    def __init__(self, file: BinaryIO, plan: WavPlan) -> None:
        self._file, self._plan = file, plan
        self._header = b"".join(true_header(plan, plan.sound_bytes))
        self._position = 0

    def readable(self) -> bool:
        """Return True."""
        return True

    def seekable(self) -> bool:
        """Return True."""
        return True

    def tell(self) -> int:
        """Return the place in the mended file."""
        return self._position

    def seek(self, offset: int, whence: int = io.SEEK_SET) -> int:
        """Move; never before the beginning."""
        base = {io.SEEK_SET: 0, io.SEEK_CUR: self._position, io.SEEK_END: len(self._header) + self._plan.sound_bytes}
        self._position = max(0, base[whence] + offset)
        return self._position

    def readinto(self, buffer: memoryview) -> int:  # type: ignore[override]
        """Fill the buffer from the header first, then from the sound."""
        view = memoryview(buffer)
        data = self._some(len(view))
        view[: len(data)] = data
        self._position += len(data)
        return len(data)

    def _some(self, count: int) -> bytes:
        inside = self._position - len(self._header)
        if inside < 0:
            head = self._header[self._position : self._position + count]
            return head + self._sound(0, count - len(head))
        return self._sound(inside, count)

    def _sound(self, start: int, count: int) -> bytes:
        count = min(count, self._plan.sound_bytes - start)
        if count <= 0:
            return b""
        self._file.seek(self._plan.sound_offset + start)
        return self._file.read(count)
