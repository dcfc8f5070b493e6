"""Reads what the recorder wrote into the chunks of a WAV file: marks, `bext`, INFO and iXML.

SECURITY: the number of marks and texts and the size of every payload that is read are bounded.
"""

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from typing import BinaryIO

from audio_qc.facts.file import Broadcast, Details, InfoText, Mark
from audio_qc.reading.ixml import read_ixml
from audio_qc.reading.riff import Chunk, WavPlan

MAX_MARKS = 10_000
MAX_TEXTS = 1_000
MAX_TEXT_BYTES = 4_096
MAX_PAYLOAD_BYTES = 1_048_576
MAX_LIST_BYTES = 4_194_304  # of all LIST chunks together
BEXT_MIN_BYTES = 602  # EBU Tech 3285: the fixed part, before the coding history
LTXT_MIN_BYTES = 8  # id and length; what follows is not read
UNUSED_LOUDNESS = 0x7FFF  # EBU Tech 3285 v2: this parameter was not measured


@dataclass(frozen=True)
class StoredMark:
    """A mark as the file has it, not yet held against the recording's length."""

    frame: int
    label: str = ""
    note: str = ""
    length_frames: int = 0


NO_DETAILS = Details(broadcast=None, info=())


@dataclass(frozen=True)
class Written:
    """Everything the recorder wrote about the recording."""

    marks: tuple[StoredMark, ...] = ()
    details: Details = NO_DETAILS


def read_written(file: BinaryIO, plan: WavPlan) -> Written:
    """Read marks and details from the chunks of a WAV file."""
    lists = _lists(file, plan.chunks)
    ixml = _first(file, plan.chunks, b"iXML")
    details = Details(
        broadcast=_broadcast(_first(file, plan.chunks, b"bext"), plan.order),
        info=_info(lists, plan.order),
        ixml=read_ixml(ixml) if ixml else None,
    )
    return Written(_marks(_first(file, plan.chunks, b"cue "), lists, plan.order), details)


def placed_marks(marks: tuple[StoredMark, ...], sample_rate_hz: int, frames: int) -> tuple[Mark, ...]:
    """Give each mark its time, in order; marks past the end of the sound are left out, regions end with it."""
    inside = sorted((mark for mark in marks if mark.frame <= frames), key=lambda mark: (mark.frame, mark.label))
    return tuple(
        Mark(
            at_seconds=mark.frame / sample_rate_hz,
            at_frame=mark.frame,
            label=mark.label,
            note=mark.note,
            length_frames=min(mark.length_frames, frames - mark.frame),
        )
        for mark in inside
    )


def clean_text(data: bytes) -> str:
    """Decode a zero-ended text: the standard says CP1252, many recorders write UTF-8, so UTF-8 is tried first."""
    data = data[:MAX_TEXT_BYTES].split(b"\0", 1)[0]
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError:
        text = data.decode("cp1252", errors="replace")
    return printable(text)


def printable(text: str) -> str:
    """Return the text without control signs and spaces around it."""
    return "".join(sign for sign in text if sign.isprintable() or sign in "\r\n\t").strip()


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


def _sub_chunks(payload: bytes, order: str) -> Iterator[tuple[bytes, bytes]]:
    offset = 4
    for _ in range(MAX_MARKS):
        if offset + 8 > len(payload):
            return
        size = struct.unpack_from(order + "I", payload, offset + 4)[0]
        yield payload[offset : offset + 4], payload[offset + 8 : offset + 8 + size]
        offset += 8 + size + size % 2


def _marks(cue: bytes, lists: list[bytes], order: str) -> tuple[StoredMark, ...]:
    if len(cue) < 4:
        return ()
    claimed = struct.unpack_from(order + "I", cue)[0]
    count = min(claimed, (len(cue) - 4) // 24, MAX_MARKS)
    labels, notes, lengths = _labels(lists, order)
    # The last of the six numbers, the sample offset, is the position in PCM: some writers leave the second at 0.
    points = (struct.unpack_from(order + "II4sIII", cue, 4 + 24 * n) for n in range(count))
    return tuple(
        StoredMark(point[5], labels.get(point[0], ""), notes.get(point[0], ""), lengths.get(point[0], 0))
        for point in points
    )


def _labels(lists: list[bytes], order: str) -> tuple[dict[int, str], dict[int, str], dict[int, int]]:
    """Return label, note and length in frames by cue point; a note alone serves as the label."""
    labels: dict[int, str] = {}
    notes: dict[int, str] = {}
    lengths: dict[int, int] = {}
    for payload in lists:
        for name, body in _sub_chunks(payload, order) if payload[:4] == b"adtl" else ():
            point = struct.unpack_from(order + "I", body)[0] if len(body) >= 4 else None
            if point is None:
                continue
            if name == b"labl":
                labels[point] = clean_text(body[4:])
            elif name == b"note":
                notes[point] = clean_text(body[4:])
            elif name == b"ltxt" and len(body) >= LTXT_MIN_BYTES:
                lengths[point] = struct.unpack_from(order + "I", body, 4)[0]
    only_notes = {point: text for point, text in notes.items() if not labels.get(point)}
    return labels | only_notes, {point: text for point, text in notes.items() if point not in only_notes}, lengths


def _info(lists: list[bytes], order: str) -> tuple[InfoText, ...]:
    texts = []
    for payload in lists:
        if payload[:4] == b"INFO":
            texts += [InfoText(clean_text(name), clean_text(body)) for name, body in _sub_chunks(payload, order)]
    return tuple(text for text in texts if text.text)[:MAX_TEXTS]


def _broadcast(payload: bytes, order: str) -> Broadcast | None:
    if len(payload) < BEXT_MIN_BYTES:
        return None
    low, high, version = struct.unpack_from(order + "IIH", payload, 338)
    measured = struct.unpack_from(order + "5h", payload, 412)
    loudness = tuple(None if version < 2 or value == UNUSED_LOUDNESS else value / 100 for value in measured)
    return Broadcast(
        description=clean_text(payload[:256]),
        originator=clean_text(payload[256:288]),
        originator_reference=clean_text(payload[288:320]),
        origination_date=clean_text(payload[320:330]),
        origination_time=clean_text(payload[330:338]),
        time_reference_frames=high << 32 | low,
        version=version,
        coding_history=clean_text(payload[BEXT_MIN_BYTES:]),
        has_umid=version >= 1 and any(payload[348:412]),
        loudness_lufs=loudness[0],
        loudness_range_lu=loudness[1],
        max_true_peak_dbtp=loudness[2],
        max_momentary_lufs=loudness[3],
        max_short_term_lufs=loudness[4],
    )
