"""Makes a salvaged copy of a damaged recording: the same samples behind a true header, in a new file.

The original is only read. The sound of a WAV file is copied byte by byte; of other kinds, what can be decoded is
written as a WAV file of the same word length (32-bit float where the coding has none).
"""

import os
import struct
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO
from uuid import uuid4

import numpy as np

from audio_qc.errors import NotSalvaged, Unreadable
from audio_qc.facts.file import StructureNote
from audio_qc.reading.mended import true_header
from audio_qc.reading.riff import FLOAT_TAG, PCM_TAG, Chunk, WavPlan
from audio_qc.source import Source, open_source

Progress = Callable[[float], None]
COPY_BYTES = 4_194_304
KEPT_CHUNKS = (b"bext", b"iXML", b"LIST", b"cue ", b"axml", b"chna", b"fact")
# What a copy with a true header, or of what can be decoded, is free of. The rest harms no reader, or stays.
MENDABLE = {
    "truncated", "damaged", "size-not-set", "size-too-small", "size-wrapped", "no-ds64", "no-riff-id", "no-pad-byte",
    "fmt-wrong", "junk-before-sound",
}  # fmt: skip
_ENCODED = {"PCM_U8": (PCM_TAG, 8), "PCM_16": (PCM_TAG, 16), "PCM_24": (PCM_TAG, 24), "PCM_32": (PCM_TAG, 32),
            "FLOAT": (FLOAT_TAG, 32), "DOUBLE": (FLOAT_TAG, 64)}  # fmt: skip


@dataclass(frozen=True)
class Salvaged:
    """What a salvaged copy is: `method` is "copied" (the same bytes of sound) or "decoded"."""

    method: str
    container: str
    subtype: str
    sample_rate_hz: int
    channels: int
    frames: int
    seconds: float
    file_bytes: int
    kept_chunks: tuple[str, ...]
    mended: tuple[StructureNote, ...]


def can_be_mended(structure: tuple[StructureNote, ...]) -> bool:
    """Whether a salvaged copy would be free of something that these notes tell."""
    return any(note.code in MENDABLE for note in structure)


def salvage(
    path: str | os.PathLike[str], target: str | os.PathLike[str], *, progress: Progress | None = None
) -> Salvaged:
    """Write a salvaged copy of `path` to `target`, a file that must not exist yet; `progress` is told the share done.

    Raises NotSalvaged when there is nothing to mend or no place for the copy, Unreadable when there is nothing to save.
    """
    target = Path(target)
    if target.exists() or target.is_symlink():
        raise NotSalvaged("There is a file of that name already, and a salvaged copy never replaces one.")
    source = open_source(path)
    try:
        return _salvaged(source, target, progress or _nobody)
    except OSError as error:
        raise NotSalvaged("The salvaged copy could not be written; is there room enough for it?") from error
    finally:
        source.close()


def _salvaged(source: Source, target: Path, progress: Progress) -> Salvaged:
    aside = target.with_name(f".{target.name}.{uuid4().hex}")
    try:
        salvaged = _written_aside(source, aside, progress)
        _put_in_place(aside, target)
    finally:
        aside.unlink(missing_ok=True)
    return salvaged


def _written_aside(source: Source, aside: Path, progress: Progress) -> Salvaged:
    plan = source.plan
    with aside.open("xb") as out:
        if plan is not None and plan.has_sound and can_be_mended(plan.structure):
            method, kept, mended = "copied", _copy(source.file, plan, out, progress), plan.structure
        else:
            method, kept, mended = "decoded", (), _decode(source, out, progress)
        out.flush()
        os.fsync(out.fileno())
    progress(1.0)
    return _facts(aside, method, kept, mended)


def _facts(aside: Path, method: str, kept: tuple[str, ...], mended: tuple[StructureNote, ...]) -> Salvaged:
    """Read the copy's own header, so that what is told is what the next reader will find."""
    copy = open_source(aside)
    try:
        decoder, frames = copy.decoder, copy.decoder.claimed_frames or 0
        if can_be_mended(copy.structure_by_header()):
            raise Unreadable("A true header could not be made for this file.")
        return Salvaged(
            method=method,
            container=decoder.container,
            subtype=decoder.subtype,
            sample_rate_hz=decoder.sample_rate_hz,
            channels=decoder.channels,
            frames=frames,
            seconds=frames / decoder.sample_rate_hz,
            file_bytes=copy.file_bytes,
            kept_chunks=kept,
            mended=mended,
        )
    finally:
        copy.close()


def _copy(file: BinaryIO, plan: WavPlan, out: BinaryIO, progress: Progress) -> tuple[str, ...]:
    """Copy the whole frames of sound and the whole chunks that say something about it; return the chunks' names."""
    kept = [chunk for chunk in plan.chunks if chunk.name in KEPT_CHUNKS and chunk.readable == chunk.size]
    frame_bytes = struct.unpack_from(plan.order + "H", plan.fmt, 12)[0] or 1
    sound_bytes = plan.sound_bytes - plan.sound_bytes % frame_bytes
    front, before_sound = true_header(plan, sound_bytes, sum(8 + chunk.size + chunk.size % 2 for chunk in kept))
    out.write(front)
    for chunk in kept:
        copy_chunk(file, plan.order, chunk, out)
    out.write(before_sound)
    for done in copy_bytes(file, plan.sound_offset, sound_bytes, out):
        progress(done / sound_bytes)
    out.write(bytes(sound_bytes % 2))
    return tuple(chunk.name.decode("ascii") for chunk in kept)


def copy_chunk(file: BinaryIO, order: str, chunk: Chunk, out: BinaryIO) -> None:
    """Copy one chunk as it is, with its head and the byte that evens it."""
    out.write(chunk.name + struct.pack(order + "I", chunk.size))
    for _ in copy_bytes(file, chunk.offset, chunk.size, out):
        pass
    out.write(bytes(chunk.size % 2))


def copy_bytes(file: BinaryIO, offset: int, count: int, out: BinaryIO) -> Iterator[int]:
    """Copy a stretch piece by piece; yield how much is done."""
    file.seek(offset)
    done = 0
    while done < count:
        data = file.read(min(COPY_BYTES, count - done))
        if not data:
            raise OSError("The file became shorter while it was read.")
        out.write(data)
        done += len(data)
        yield done


def _decode(source: Source, out: BinaryIO, progress: Progress) -> tuple[StructureNote, ...]:
    """Write what can be decoded; the header is written again at the end, when the length is known."""
    subtype = _subtype_for(source)
    plan = _plan_for(source, subtype)
    out.write(b"".join(true_header(plan, 0)))
    sound_bytes = 0
    for block in source.blocks():
        data = _encoded(block, subtype)
        out.write(data)
        sound_bytes += len(data)
        progress(source.share_of(source.frames_read))
    if not can_be_mended(source.structure()):
        raise NotSalvaged("There is nothing to mend in this file: keep it as it is.")
    if not sound_bytes:
        raise NotSalvaged("There is no sound in this file that could be saved.")
    out.write(bytes(sound_bytes % 2))
    out.seek(0)
    out.write(b"".join(true_header(plan, sound_bytes)))
    return source.structure()


def _subtype_for(source: Source) -> str:
    decoder = source.decoder
    if decoder.subtype in _ENCODED:
        return decoder.subtype
    if decoder.subtype in ("ULAW", "ALAW") or not decoder.bits_per_sample:
        return "PCM_16" if decoder.bits_per_sample else "FLOAT"
    return {8: "PCM_U8", 16: "PCM_16", 32: "PCM_32"}.get(decoder.bits_per_sample, "PCM_24")


def _plan_for(source: Source, subtype: str) -> WavPlan:
    tag, bits = _ENCODED[subtype]
    frame_bytes = source.channels * bits // 8
    rate_hz = source.sample_rate_hz
    fmt = struct.pack("<HHIIHH", tag, source.channels, rate_hz, rate_hz * frame_bytes, frame_bytes, bits)
    return WavPlan(b"RIFF", "<", (), fmt, 0, 0, ())


def _encoded(block: np.ndarray, subtype: str) -> bytes:
    """Return a block as the bytes of a WAV file; exact, because each block came from words of that length."""
    samples = np.ascontiguousarray(block.T)
    tag, bits = _ENCODED[subtype]
    if tag == FLOAT_TAG:
        return samples.astype("<f4" if bits == 32 else "<f8").tobytes()
    full_scale = 2.0 ** (bits - 1)
    words = np.clip(np.rint(samples * full_scale), -full_scale, full_scale - 1)
    if bits == 8:
        return (words + 128).astype(np.uint8).tobytes()
    if bits == 24:
        return words.astype("<i4").view(np.uint8).reshape(-1, 4)[:, :3].tobytes()
    return words.astype(f"<i{bits // 8}").tobytes()


def _put_in_place(aside: Path, target: Path) -> None:
    """Give the finished copy its name, never over another file, also when one has appeared meanwhile."""
    try:
        os.link(aside, target)
    except FileExistsError as error:
        raise NotSalvaged("There is a file of that name already, and a salvaged copy never replaces one.") from error
    except OSError:  # the file systems of memory cards and some network shares know no links
        aside.rename(target)


def _nobody(share: float) -> None:
    """Take the share done when nobody asked for it."""
