"""Reads the chunks of a WAV, RIFX or RF64 file: sizes, the recorder's marks, `bext` and `INFO`.

SECURITY: the bytes come from strangers. The number of chunks, marks and texts and the size of every payload that is
read are bounded, and no size in the file is used to allocate memory before it is cut to what the file really holds.
"""

import os
import struct
from collections.abc import Iterator
from dataclasses import dataclass
from typing import BinaryIO

from audio_qc.measurement import Broadcast, Details, InfoText, Mark, StructureNote

MAX_CHUNKS = 2_000
MAX_MARKS = 10_000
MAX_TEXTS = 1_000
MAX_TEXT_BYTES = 4_096
MAX_PAYLOAD_BYTES = 1_048_576
MAX_LIST_BYTES = 4_194_304  # of all LIST chunks together
UNSET_SIZE = 0xFFFFFFFF
BEXT_MIN_BYTES = 602  # EBU Tech 3285: the fixed part, before the coding history


@dataclass(frozen=True)
class Chunk:
    """One chunk: `size` is what its header claims, `readable` what the file holds of it."""

    name: bytes
    offset: int
    size: int
    readable: int


@dataclass(frozen=True)
class Riff:
    """What the chunks say; `marks` are not yet held against the recording's length."""

    marks: tuple[tuple[int, str], ...]
    details: Details
    structure: tuple[StructureNote, ...]


NOTHING = Riff(marks=(), details=Details(broadcast=None, info=()), structure=())


def read_riff(file: BinaryIO) -> Riff:
    """Read marks, details and structure notes from an open file; any other kind of file gives NOTHING."""
    file.seek(0)
    head = file.read(12)
    if len(head) < 12 or head[:4] not in (b"RIFF", b"RIFX", b"RF64", b"BW64") or head[8:] != b"WAVE":
        return NOTHING
    order = ">" if head[:4] == b"RIFX" else "<"
    file_bytes = os.fstat(file.fileno()).st_size
    chunks = tuple(_chunks(file, order, file_bytes))
    lists = _lists(file, chunks)
    return Riff(
        marks=_marks(file, chunks, lists, order),
        details=Details(broadcast=_broadcast(file, chunks, order), info=_info(lists, order)),
        structure=tuple(_structure(head[:4], chunks, file_bytes)),
    )


def placed_marks(marks: tuple[tuple[int, str], ...], sample_rate_hz: int, frames: int) -> tuple[Mark, ...]:
    """Give each mark its time, in order; marks past the end of the sound are left out."""
    inside = sorted(mark for mark in marks if mark[0] <= frames)
    return tuple(Mark(at_seconds=frame / sample_rate_hz, at_frame=frame, label=label) for frame, label in inside)


def _chunks(file: BinaryIO, order: str, file_bytes: int) -> Iterator[Chunk]:
    offset, large_data = 12, None
    for _ in range(MAX_CHUNKS):
        file.seek(offset)
        header = file.read(8)
        if len(header) < 8:
            return
        name, size = header[:4], struct.unpack(order + "I", header[4:])[0]
        if name == b"ds64" and size >= 16:
            large_data = struct.unpack(order + "8xQ", file.read(16).ljust(16, b"\0"))[0]
        if name == b"data" and size == UNSET_SIZE and large_data is not None:
            size = large_data
        start = offset + 8
        yield Chunk(name, start, size, max(0, min(size, file_bytes - start)))
        offset = start + size + size % 2


def _payload(file: BinaryIO, chunk: Chunk) -> bytes:
    file.seek(chunk.offset)
    return file.read(min(chunk.readable, MAX_PAYLOAD_BYTES))


def _lists(file: BinaryIO, chunks: tuple[Chunk, ...]) -> list[bytes]:
    payloads: list[bytes] = []
    for chunk in chunks:
        if chunk.name == b"LIST" and sum(map(len, payloads)) < MAX_LIST_BYTES:
            payloads.append(_payload(file, chunk))
    return payloads


def _first(file: BinaryIO, chunks: tuple[Chunk, ...], name: bytes) -> bytes:
    found = next((chunk for chunk in chunks if chunk.name == name), None)
    return _payload(file, found) if found else b""


def _text(data: bytes) -> str:
    """Decode a zero-ended text: the standard says CP1252, many recorders write UTF-8, so UTF-8 is tried first."""
    data = data[:MAX_TEXT_BYTES].split(b"\0", 1)[0]
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError:
        text = data.decode("cp1252", errors="replace")
    return "".join(sign for sign in text if sign.isprintable() or sign in "\r\n\t").strip()


def _sub_chunks(payload: bytes, order: str) -> Iterator[tuple[bytes, bytes]]:
    offset = 4
    for _ in range(MAX_MARKS):
        if offset + 8 > len(payload):
            return
        size = struct.unpack_from(order + "I", payload, offset + 4)[0]
        yield payload[offset : offset + 4], payload[offset + 8 : offset + 8 + size]
        offset += 8 + size + size % 2


def _marks(file: BinaryIO, chunks: tuple[Chunk, ...], lists: list[bytes], order: str) -> tuple[tuple[int, str], ...]:
    payload = _first(file, chunks, b"cue ")
    if len(payload) < 4:
        return ()
    claimed = struct.unpack_from(order + "I", payload)[0]
    count = min(claimed, (len(payload) - 4) // 24, MAX_MARKS)
    labels = _labels(lists, order)
    # The last of the six numbers, the sample offset, is the position in PCM: some writers leave the second at 0.
    points = (struct.unpack_from(order + "II4sIII", payload, 4 + 24 * n) for n in range(count))
    return tuple((point[5], labels.get(point[0], "")) for point in points)


def _labels(lists: list[bytes], order: str) -> dict[int, str]:
    """Return the text of each cue point; its `labl` wins over its `note`."""
    notes: dict[int, str] = {}
    labels: dict[int, str] = {}
    for payload in lists:
        if payload[:4] != b"adtl":
            continue
        for name, body in _sub_chunks(payload, order):
            if name in (b"labl", b"note") and len(body) >= 4:
                (labels if name == b"labl" else notes)[struct.unpack_from(order + "I", body)[0]] = _text(body[4:])
    return notes | {point: text for point, text in labels.items() if text}


def _info(lists: list[bytes], order: str) -> tuple[InfoText, ...]:
    texts = []
    for payload in lists:
        if payload[:4] == b"INFO":
            texts += [InfoText(_text(name), _text(body)) for name, body in _sub_chunks(payload, order)]
    return tuple(text for text in texts if text.text)[:MAX_TEXTS]


def _broadcast(file: BinaryIO, chunks: tuple[Chunk, ...], order: str) -> Broadcast | None:
    payload = _first(file, chunks, b"bext")
    if len(payload) < BEXT_MIN_BYTES:
        return None
    low, high, version = struct.unpack_from(order + "IIH", payload, 338)
    return Broadcast(
        description=_text(payload[:256]),
        originator=_text(payload[256:288]),
        originator_reference=_text(payload[288:320]),
        origination_date=_text(payload[320:330]),
        origination_time=_text(payload[330:338]),
        time_reference_frames=high << 32 | low,
        version=version,
        coding_history=_text(payload[BEXT_MIN_BYTES:]),
    )


def _structure(kind: bytes, chunks: tuple[Chunk, ...], file_bytes: int) -> Iterator[StructureNote]:
    if kind in (b"RF64", b"BW64") and not any(chunk.name == b"ds64" for chunk in chunks):
        yield StructureNote("no-ds64", "The file says that it is RF64, and the ds64 chunk with its sizes is missing.")
    data = next((chunk for chunk in chunks if chunk.name == b"data"), None)
    if data is None:
        return
    if data.size == UNSET_SIZE or (data.size == 0 and file_bytes > data.offset):
        yield StructureNote("size-not-set", "The recorder never wrote how long the sound is, as after a loss of power.")
    elif data.readable < data.size:
        yield StructureNote(
            "truncated", f"The header promises {data.size} bytes of sound and the file holds {data.readable} of them."
        )
    end = chunks[-1].offset + chunks[-1].size
    if file_bytes - end > 1:
        yield StructureNote("trailing-bytes", f"{file_bytes - end} bytes follow the last chunk.")
