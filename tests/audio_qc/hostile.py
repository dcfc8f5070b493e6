"""Sound files of every kind, ways to damage them, and a process that dares to read what comes of it."""

import contextlib
import json
import random
import select
import struct
import subprocess
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import audio_qc
from tests.audio_qc.encoding import encode
from tests.signals import chunk, cue, fmt, labels, noise, pcm16, steps, stereo, wav, write

ANSWER_WITHIN_S = 60  # of the clock, on a busy machine; the limit that is tested is processor time
ROOT = Path(audio_qc.__file__).parent.parent


@dataclass(frozen=True)
class Answer:
    """What became of one file, the processor time it took and the most memory that the process ever had."""

    outcome: str
    cpu_s: float
    peak_mb: float


class Reader:
    """One long-lived process; a crash or a hang ends it, is told as such, and the next file gets a new one."""

    def __init__(self, answer_within_s: float = ANSWER_WITHIN_S) -> None:
        self.process: subprocess.Popen[str] | None = None
        self.answer_within_s = answer_within_s

    def read(self, path: Path) -> Answer:
        """Have a file measured."""
        self.process = process = self.process or self._started()
        assert process.stdin is not None
        assert process.stdout is not None
        try:
            process.stdin.write(f"{path}\n")
            process.stdin.flush()
        except BrokenPipeError:
            return self._ended("died before this file")
        if not select.select([process.stdout], [], [], self.answer_within_s)[0]:
            return self._ended("hung")
        line = process.stdout.readline()
        return Answer(**json.loads(line)) if line else self._ended("died")

    def close(self) -> None:
        """End the process."""
        if self.process is not None:
            self.process.kill()
            self.process.wait()
            for stream in (self.process.stdin, self.process.stdout):
                assert stream is not None
                with contextlib.suppress(BrokenPipeError):  # what it had no time to read
                    stream.close()
            self.process = None

    def _ended(self, outcome: str) -> Answer:
        self.close()
        return Answer(outcome, 0.0, 0.0)

    def _started(self) -> "subprocess.Popen[str]":
        command = [sys.executable, "-m", "tests.audio_qc.hostile_child"]
        return subprocess.Popen(
            command, cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
        )


def whole_files() -> dict[str, bytes]:
    """Return one short good file of every kind that can be written here."""
    sound = steps([(0.2, -8.0), (0.1, None)] * 2, 330.0, 16_000) + noise(0.6, -50.0, 16_000)
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        made = {"wav": _wav(sound), "rf64": _rf64(sound), "amr": _amr()}
        made["wma"] = encode(place / "w.wma", "wmav2", sound, "fltp", 16_000, 32_000).read_bytes()
        for name, ending, codec, form in _ENCODED:
            made[name] = encode(place / f"{name}.{ending}", codec, sound, form, 16_000).read_bytes()
        for ending, subtype in _WRITTEN:
            made[ending] = write(place / f"w.{ending}", stereo(sound), 16_000, subtype).read_bytes()
    return made


_ENCODED = [
    ("aac", "aac", "aac", "fltp"), ("m4a", "m4a", "aac", "fltp"), ("alac", "m4a", "alac", "s16p"),
    ("mov", "mov", "pcm_s16le", "s16"), ("webm", "webm", "libopus", "flt"), ("mka", "mka", "flac", "s16"),
    ("3gp", "3gp", "aac", "fltp"), ("opus", "opus", "libopus", "flt"),
]  # fmt: skip
_WRITTEN = [
    ("flac", "PCM_16"), ("mp3", "MPEG_LAYER_III"), ("ogg", "VORBIS"), ("aiff", "PCM_24"), ("caf", "PCM_16"),
    ("w64", "PCM_16"), ("au", "PCM_16"),
]  # fmt: skip


def _wav(sound: object) -> bytes:
    bext = chunk(b"bext", b"The crossing years".ljust(348, b"\0") + bytes(260))
    ixml = chunk(b"iXML", b"<?xml version='1.0'?><BWFXML><PROJECT>Ferry</PROJECT><TRACK_LIST/></BWFXML>")
    texts = labels((1, b"one")) + chunk(b"LIST", b"INFO" + chunk(b"INAM", b"Part one\0"))
    return wav(bext, ixml, fmt(16_000), cue((1, 50), (2, 900)), chunk(b"data", pcm16(sound)), texts)  # type: ignore[arg-type]


def _rf64(sound: object) -> bytes:
    data = pcm16(sound)  # type: ignore[arg-type]
    sizes = chunk(b"ds64", struct.pack("<QQQI", 0, len(data), 0, 0))
    return wav(sizes, fmt(16_000), chunk(b"data", data, 0xFFFFFFFF), form=b"RF64", size=0xFFFFFFFF)


def _amr() -> bytes:
    """Frames of 12.2 kbit/s have a head of 0x3C and 31 bytes (RFC 4867)."""
    dice = random.Random(1)
    return b"#!AMR\n" + b"".join(b"\x3c" + dice.randbytes(31) for _ in range(30))


HOSTILE_NUMBERS = (0, 1, 2, 0x7F, 0xFF, 0xFFFF, 0x10000, 0x7FFFFFFF, 0x80000000, 0xFFFFFFF0, 0xFFFFFFFE, 0xFFFFFFFF)


def damaged(content: bytes, others: list[bytes], dice: random.Random) -> bytes:
    """Return the file with one to twelve changes, most of them near its beginning or its end."""
    changed = bytearray(content)
    for _ in range(dice.choice((1, 1, 1, 2, 3, 5, 12))):
        if changed:
            dice.choice(_CHANGES)(changed, others, dice)
    return bytes(changed)


def _place(changed: bytearray, dice: random.Random) -> int:
    near = dice.choice((64, 256, 1_024, len(changed), len(changed)))
    place = dice.randrange(min(near, len(changed)))
    return place if dice.random() < 0.7 else len(changed) - 1 - place


def _flip(changed: bytearray, others: list[bytes], dice: random.Random) -> None:
    changed[_place(changed, dice)] = dice.choice((0, 1, 0x7F, 0x80, 0xFF, dice.randrange(256)))


def _number(changed: bytearray, others: list[bytes], dice: random.Random) -> None:
    place, order, value = _place(changed, dice), dice.choice("<>"), dice.choice(HOSTILE_NUMBERS)
    changed[place : place + 4] = struct.pack(order + "I", value)


def _near_number(changed: bytearray, others: list[bytes], dice: random.Random) -> None:
    place, order = _place(changed, dice), dice.choice("<>")
    if place + 4 <= len(changed):
        value = struct.unpack_from(order + "I", changed, place)[0] + dice.choice((-2, -1, 1, 2, 1 << 8, 1 << 24))
        struct.pack_into(order + "I", changed, place, value & 0xFFFFFFFF)


def _cut(changed: bytearray, others: list[bytes], dice: random.Random) -> None:
    del changed[_place(changed, dice) :]


def _remove(changed: bytearray, others: list[bytes], dice: random.Random) -> None:
    place = _place(changed, dice)
    del changed[place : place + dice.choice((1, 2, 4, 8, 100))]


def _insert(changed: bytearray, others: list[bytes], dice: random.Random) -> None:
    place = _place(changed, dice)
    changed[place:place] = dice.choice((bytes(1), bytes(512), dice.randbytes(dice.choice((1, 3, 64, 5_000)))))


def _repeat(changed: bytearray, others: list[bytes], dice: random.Random) -> None:
    place = _place(changed, dice)
    piece = changed[place : place + dice.choice((8, 24, 100, 2_000))]
    changed[place:place] = piece * dice.choice((1, 2, 50))


def _graft(changed: bytearray, others: list[bytes], dice: random.Random) -> None:
    other, place = dice.choice(others), _place(changed, dice)
    start = dice.randrange(len(other))
    changed[place:place] = other[start : start + dice.choice((16, 200, 5_000))]


_Change = Callable[[bytearray, list[bytes], random.Random], None]
_CHANGES: tuple[_Change, ...] = (_flip, _flip, _number, _number, _near_number, _cut, _remove, _insert, _repeat, _graft)
