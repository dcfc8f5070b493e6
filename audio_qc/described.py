"""Makes a described copy: the same samples, byte for byte as they are coded, with texts that say what they are.

WAV gets a `bext` chunk (EBU Tech 3285 version 2), `LIST/INFO` and, where the recorder wrote none, iXML; FLAC gets
Vorbis comments (RFC 9639, section 8.6); MP3 an ID3v2.4 tag. The original is only read, and what the recorder wrote
about its recording goes along: marks, its iXML, its time stamp, its own texts.
"""

import os
import struct
import unicodedata
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO
from xml.sax.saxutils import escape

from audio_qc.errors import NotDescribed
from audio_qc.facts.file import Broadcast, InfoText
from audio_qc.reading.details import UNUSED_LOUDNESS
from audio_qc.reading.kinds import id3_bytes
from audio_qc.reading.mended import true_header
from audio_qc.reading.riff import Chunk, WavPlan
from audio_qc.salvage import copy_bytes, copy_chunk
from audio_qc.source import Source, open_source

Progress = Callable[[float], None]
# Kept as the recorder wrote them. `bext` and INFO are written anew, with what the recorder said in them.
KEPT_CHUNKS = (b"iXML", b"cue ", b"axml", b"chna", b"fact", b"smpl", b"inst", b"umid")
VORBIS_COMMENT = 4  # RFC 9639, table 1
LARGEST_FLAC_BLOCK = 2**24 - 1
MOST_FLAC_BYTES = 64 * 1024 * 1024  # SECURITY: of metadata, which is held; pictures and cue sheets are far smaller
SYNCSAFE = 0x7F  # ID3v2.4.0, section 6.2: seven bits of each byte of a size


@dataclass(frozen=True)
class Texts:
    """What a copy says of its recording. `date` is YYYY-MM-DD; `reference` is the number by which it is known."""

    title: str
    people: str
    date: str
    comment: str
    rights: str
    organisation: str
    reference: str
    software: str


@dataclass(frozen=True)
class Loudness:
    """What `bext` version 2 stores; None for what was not measured."""

    integrated_lufs: float | None = None
    range_lu: float | None = None
    true_peak_dbtp: float | None = None
    max_momentary_lufs: float | None = None
    max_short_term_lufs: float | None = None


def describe(
    path: str | os.PathLike[str],
    target: str | os.PathLike[str],
    texts: Texts,
    *,
    loudness: Loudness = Loudness(),
    progress: Progress | None = None,
) -> None:
    """Write a described copy of a WAV, FLAC or MP3 file to `target`, a file that must not exist yet.

    Raises NotDescribed for other kinds and for files whose header is damaged, Unreadable for what is no sound.
    """
    source = open_source(path)
    try:
        write = _writer(source)
        with Path(target).open("xb") as out:
            try:
                write(source, out, texts, loudness, progress or _nobody)
            except BaseException:
                Path(target).unlink()
                raise
            out.flush()
            os.fsync(out.fileno())
    finally:
        source.close()


def _writer(source: Source) -> Callable[[Source, BinaryIO, Texts, Loudness, Progress], None]:
    if source.plan is not None and source.plan.has_sound:
        if source.plan.needs_mending:
            raise NotDescribed("The header of this file is damaged: a salvaged copy of it can be described.")
        return _describe_wav
    writers = {"FLAC": _describe_flac, "MP3": _describe_mp3}
    if source.decoder.container not in writers:
        raise NotDescribed("Texts are written into WAV, FLAC and MP3 files only.")
    return writers[source.decoder.container]


# WAV


def _describe_wav(source: Source, out: BinaryIO, texts: Texts, loudness: Loudness, progress: Progress) -> None:
    plan = source.plan
    assert plan is not None, "only WAV has a plan"
    details = source.details()
    made = [_chunk(plan, b"bext", _bext(plan.order, details.broadcast, texts, loudness))]
    made.append(_chunk(plan, b"LIST", _info(plan, texts, details.info)))
    if not any(chunk.name == b"iXML" for chunk in plan.chunks):
        made.append(_chunk(plan, b"iXML", _ixml(texts)))
    kept = [chunk for chunk in plan.chunks if _is_kept(source.file, chunk)]
    added = sum(map(len, made)) + sum(8 + chunk.size + chunk.size % 2 for chunk in kept)
    front, before_sound = true_header(plan, plan.sound_bytes, added)
    out.write(front)
    for chunk in kept:
        copy_chunk(source.file, plan.order, chunk, out)
    out.write(b"".join(made))
    out.write(before_sound)
    for done in copy_bytes(source.file, plan.sound_offset, plan.sound_bytes, out):
        progress(done / plan.sound_bytes)
    out.write(bytes(plan.sound_bytes % 2))


def _is_kept(file: BinaryIO, chunk: Chunk) -> bool:
    if chunk.readable != chunk.size:
        return False
    if chunk.name != b"LIST":
        return chunk.name in KEPT_CHUNKS
    file.seek(chunk.offset)
    return file.read(4) != b"INFO"


def _chunk(plan: WavPlan, name: bytes, payload: bytes) -> bytes:
    return name + struct.pack(plan.order + "I", len(payload)) + payload + bytes(len(payload) % 2)


def _bext(order: str, known: Broadcast | None, texts: Texts, loudness: Loudness) -> bytes:
    """EBU Tech 3285 version 2, table 1: 602 bytes before the coding history.

    The recorder's own time stamp, origin and history stay; a UMID does not, which must be one file's alone.
    """
    reference, stamp = (known.originator_reference, known.time_reference_frames) if known else ("", 0)
    history = (known.coding_history.strip() + "\r\n" if known and known.coding_history.strip() else "") + (
        "A=PCM,T=described copy, samples unchanged\r\n"
    )
    return struct.pack(
        order + "256s32s32s10s8sIIH64s5h180x",
        _ascii(f"{texts.title}. {texts.rights}")[:256],
        _ascii((known.originator if known else "") or texts.organisation)[:32],
        _ascii(reference or texts.reference)[:32],
        _ascii((known.origination_date if known else "") or texts.date)[:10],
        _ascii((known.origination_time if known else "") or "00:00:00")[:8],
        stamp & 0xFFFFFFFF,
        stamp >> 32,
        2,
        b"",
        *(_hundredths(value) for value in vars(loudness).values()),
    ) + _ascii(history)


def _hundredths(value: float | None) -> int:
    return UNUSED_LOUDNESS if value is None else max(-9999, min(9999, round(value * 100)))


def _info(plan: WavPlan, texts: Texts, known: Iterable[InfoText]) -> bytes:
    """The four-letter keys of RIFF's INFO list; what the recorder wrote under other keys stays."""
    ours = {
        "INAM": texts.title,
        "IART": texts.people,
        "ICRD": texts.date,
        "ICMT": texts.comment,
        "ICOP": texts.rights,
        "ISRC": f"{texts.organisation}, {texts.reference}",
        "ISFT": texts.software,
    }
    both = {text.key: text.text for text in known if len(text.key.encode()) == 4} | ours
    entries = [_chunk(plan, key.encode(), text.encode() + b"\0") for key, text in both.items() if text]
    return b"INFO" + b"".join(entries)


def _ixml(texts: Texts) -> bytes:
    said = {"PROJECT": texts.organisation, "TAPE": texts.reference, "NOTE": texts.title}
    fields = "".join(f"<{name}>{escape(_printable(text))}</{name}>" for name, text in said.items() if text)
    return (
        f'<?xml version="1.0" encoding="UTF-8"?>\n<BWFXML><IXML_VERSION>1.61</IXML_VERSION>{fields}</BWFXML>\n'.encode()
    )


def _ascii(text: str) -> bytes:
    plain = unicodedata.normalize("NFKD", text)
    return "".join(sign for sign in plain if not unicodedata.combining(sign)).encode("ascii", "replace")


def _printable(text: str) -> str:
    return "".join(sign for sign in text if sign.isprintable() or sign in "\n\t")


# FLAC


def _describe_flac(source: Source, out: BinaryIO, texts: Texts, loudness: Loudness, progress: Progress) -> None:
    """Every metadata block but the comments as it is, ours in their place, then the frames as they are."""
    file = source.file
    file.seek(0)
    start = id3_bytes(file.read(10))
    file.seek(start)
    if file.read(4) != b"fLaC":
        raise NotDescribed("This FLAC stands inside another kind of file, so no texts are written into it.")
    blocks, comments = _flac_blocks(file)
    said = [comment for comment in comments if comment.partition("=")[0].upper() not in _vorbis(texts)]
    said += [f"{key}={text}" for key, text in _vorbis(texts).items() if text]
    blocks.insert(1, (VORBIS_COMMENT, _comment_block(texts.software, said)))  # STREAMINFO is the first (section 8.2)
    out.write(b"fLaC")
    for number, (kind, payload) in enumerate(blocks, start=1):
        is_last = 0x80 if number == len(blocks) else 0
        out.write(bytes([is_last | kind]) + len(payload).to_bytes(3, "big") + payload)
    _copy_rest(source, file.tell(), out, progress)


def _flac_blocks(file: BinaryIO) -> tuple[list[tuple[int, bytes]], list[str]]:
    """The metadata blocks (section 8.1) without the comments, and these."""
    blocks: list[tuple[int, bytes]] = []
    comments: list[str] = []
    is_last = False
    while not is_last:
        head = file.read(4).ljust(4, b"\x7f")
        is_last, kind, length = bool(head[0] & 0x80), head[0] & 0x7F, int.from_bytes(head[1:4], "big")
        payload = file.read(length)
        is_first = not blocks and not comments
        if len(payload) < length or (is_first and kind != 0) or file.tell() > MOST_FLAC_BYTES:
            raise NotDescribed("The beginning of this FLAC file is damaged.")
        if kind == VORBIS_COMMENT:
            comments += _comments_in(payload)
        else:
            blocks.append((kind, payload))
    return blocks, comments


def _comments_in(payload: bytes) -> list[str]:
    """Section 8.6: little-endian lengths; a vendor's name, then the number of comments."""
    found, place = [], 4 + int.from_bytes(payload[:4], "little")
    count, place = int.from_bytes(payload[place : place + 4], "little"), place + 4
    for _ in range(count):
        length = int.from_bytes(payload[place : place + 4], "little")
        text = payload[place + 4 : place + 4 + length]
        if not text:
            break
        found.append(text.decode("utf-8", "replace"))
        place += 4 + length
    return found


def _comment_block(vendor: str, comments: list[str]) -> bytes:
    texts = [text.encode() for text in (vendor, *comments)]
    told = [len(text).to_bytes(4, "little") + text for text in texts]
    block = told[0] + len(comments).to_bytes(4, "little") + b"".join(told[1:])
    if len(block) > LARGEST_FLAC_BLOCK:
        raise NotDescribed("The texts are longer than a FLAC file can hold.")
    return block


def _vorbis(texts: Texts) -> dict[str, str]:
    return {
        "TITLE": texts.title,
        "ARTIST": texts.people,
        "DATE": texts.date,
        "DESCRIPTION": texts.comment,
        "COPYRIGHT": texts.rights,
        "ORGANIZATION": texts.organisation,
        "CATALOGNUMBER": texts.reference,
    }


# MP3


def _describe_mp3(source: Source, out: BinaryIO, texts: Texts, loudness: Loudness, progress: Progress) -> None:
    """A new ID3v2.4 tag in place of an older one at the beginning; all frames of sound, and a tag at the end, stay."""
    source.file.seek(0)
    after = id3_bytes(source.file.read(10))
    frames = {
        b"TIT2": texts.title,
        b"TPE1": texts.people,
        b"TDRC": texts.date,
        b"TCOP": texts.rights,
        b"TPUB": texts.organisation,
        b"TSSE": texts.software,
    }
    tag = b"".join(_id3_frame(name, b"\x03" + text.encode()) for name, text in frames.items() if text)
    tag += _id3_frame(b"COMM", b"\x03und\0" + texts.comment.encode())
    tag += _id3_frame(b"TXXX", b"\x03Reference\0" + texts.reference.encode())
    out.write(b"ID3\x04\x00\x00" + _syncsafe(len(tag)) + tag)
    _copy_rest(source, after, out, progress)


def _id3_frame(name: bytes, body: bytes) -> bytes:
    return name + _syncsafe(len(body)) + b"\0\0" + body


def _syncsafe(size: int) -> bytes:
    return bytes(size >> shift & SYNCSAFE for shift in (21, 14, 7, 0))


def _copy_rest(source: Source, offset: int, out: BinaryIO, progress: Progress) -> None:
    count = source.file_bytes - offset
    for done in copy_bytes(source.file, offset, count, out):
        progress(done / count)


def _nobody(share: float) -> None:
    """Take the share done when nobody asked for it."""
