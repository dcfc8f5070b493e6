"""Damaged WAV files: the sound is found and measured as far as it goes, and what was odd is told."""

import struct
import time
from pathlib import Path

import numpy as np
import pytest

from audio_qc import Measurement, measure, report
from audio_qc.errors import BrokenHeader, NoSound, NotAudio
from audio_qc.rules.formats import STRUCTURE
from audio_qc.salvage import MENDABLE
from audio_qc.source import open_source
from tests.signals import chunk, cue, fmt, labels, pcm16, tone, wav

RATE_HZ = 8_000
SAMPLES = tone(2, -12.0, rate_hz=RATE_HZ)
BYTES = pcm16(SAMPLES)
FRAMES = len(SAMPLES)
DATA = chunk(b"data", BYTES)
WHOLE = wav(fmt(), DATA)


def keep(tmp_path: Path, content: bytes) -> Path:
    path = tmp_path / "a.wav"
    path.write_bytes(content)
    return path


def codes(measurement: Measurement) -> list[str]:
    return [note.code for note in measurement.structure]


def ds64(sound_bytes: int) -> bytes:
    return chunk(b"ds64", struct.pack("<QQQI", 0, sound_bytes, 0, 0))


def unset(name: bytes = b"data") -> bytes:
    return chunk(name, BYTES, 0xFFFFFFFF)


def odd_data(*, padded: bool) -> bytes:
    eight_bit = chunk(b"data", bytes(range(100, 160)) * 20 + b"\x80")
    return eight_bit if padded else eight_bit[:-1]


DAMAGES = [
    pytest.param(wav(fmt(), chunk(b"data", BYTES, 0), size=0), ["size-not-set"], id="sizes of zero"),
    pytest.param(wav(fmt(), unset(), size=0xFFFFFFFF), ["size-not-set"], id="sizes never set"),
    pytest.param(wav(fmt(), chunk(b"data", BYTES, 0), size=36), ["size-not-set"], id="data size of zero"),
    pytest.param(wav(fmt(), chunk(b"data", BYTES, 4_000)), ["size-too-small"], id="a size from long before the end"),
    pytest.param(wav(ds64(0), fmt(), unset(), form=b"RF64"), ["size-not-set"], id="RF64 with a zeroed ds64"),
    pytest.param(wav(fmt(), unset(), form=b"RF64"), ["no-ds64", "size-not-set"], id="RF64 without ds64"),
    pytest.param(wav(fmt(), unset(), form=b"BW64"), ["no-ds64", "size-not-set"], id="BW64 without ds64"),
    pytest.param(
        wav(chunk(b"JUNK", bytes(28)), fmt(), unset(), form=b"RF64"), ["no-ds64", "size-not-set"],
        id="RF64 whose ds64 was never written over its place",
    ),
    pytest.param(wav(fmt(), DATA, form=b"RF64"), ["no-ds64"], id="RF64 without ds64 and a size in the data chunk"),
    pytest.param(wav(ds64(len(BYTES) * 2), fmt(), unset(), form=b"BW64"), ["truncated"], id="ds64 that promises more"),
    pytest.param(wav(fmt(), b"\xff\x00\x17\x99" * 25, DATA), ["junk-before-sound"], id="junk before the sound"),
    pytest.param(wav(fmt(), bytes(472), DATA), ["junk-before-sound"], id="zeros before the sound"),
    pytest.param(wav(chunk(b"LIST", b"INFO", 5_000_000), fmt(), DATA), ["junk-before-sound"], id="a lying list"),
    pytest.param(wav(b"fmt " + struct.pack("<I", 17) + fmt()[8:], DATA), ["fmt-wrong"], id="fmt a byte too long"),
    pytest.param(wav(b"fmt " + struct.pack("<I", 0) + fmt()[8:], DATA), ["fmt-wrong"], id="fmt of no length"),
    pytest.param(wav(b"fmt " + struct.pack("<I", 2**31) + fmt()[8:], DATA), ["fmt-wrong"], id="fmt too long"),
    pytest.param(wav(fmt()[:20] + b"\1\0" + fmt()[22:], DATA), ["fmt-wrong"], id="frames too small for a sample"),
    pytest.param(wav(fmt()[:14] + b"\x10" + fmt()[15:], DATA), ["fmt-wrong"], id="a rate that nothing has"),
    pytest.param(b"\0\0\0\0" + WHOLE[4:], ["no-riff-id"], id="first four bytes lost"),
    pytest.param(bytes(12) + WHOLE[12:], ["no-riff-id"], id="first twelve bytes lost"),
    pytest.param(bytes(512) + WHOLE[12:], ["no-riff-id"], id="a sector of zeros before the first chunk"),
    pytest.param(b"RF65" + wav(ds64(len(BYTES)), fmt(), unset())[4:], ["no-riff-id"], id="RF64 with another name"),
    pytest.param(WHOLE + b"\0" * 3_000, ["trailing-bytes"], id="zeros after the sound"),
    pytest.param(wav(DATA, fmt()), [], id="the sound before its description"),
]  # fmt: skip


@pytest.mark.parametrize(("content", "expected"), DAMAGES)
def test_the_whole_sound_is_measured_and_the_damage_told(content: bytes, expected: list[str], tmp_path: Path) -> None:
    measurement = report(keep(tmp_path, content)).measurement
    assert codes(measurement) == expected
    assert measurement.format.frames == FRAMES
    assert measurement.levels.channels[0].rms_dbfs == pytest.approx(-15.0103, abs=0.001)
    assert measurement.salvageable == bool(set(expected) & MENDABLE)


def test_every_mendable_code_has_its_sentences() -> None:
    assert set(STRUCTURE) > MENDABLE


@pytest.mark.parametrize("padded", [True, False])
def test_a_missing_pad_byte_hides_nothing_that_follows(padded: bool, tmp_path: Path) -> None:
    tail = cue((1, 40)) + labels((1, b"door"))
    measurement = measure(keep(tmp_path, wav(fmt(bits=8), odd_data(padded=padded), tail)))
    assert measurement.format.frames == 1_201
    assert [(mark.at_frame, mark.label) for mark in measurement.marks] == [(40, "door")]
    assert codes(measurement) == ([] if padded else ["no-pad-byte"])


def test_a_missing_pad_byte_before_the_sound_does_not_shift_it(tmp_path: Path) -> None:
    note = chunk(b"bext", b"x" * 603)[:-1]
    measurement = measure(keep(tmp_path, wav(note, fmt(), DATA)))
    assert (measurement.format.frames, codes(measurement)) == (FRAMES, ["no-pad-byte"])


def test_sound_cut_short_in_the_middle_of_a_frame_ends_with_the_last_whole_one(tmp_path: Path) -> None:
    for content in (WHOLE[:-1001], wav(fmt(), chunk(b"data", BYTES, 0), size=0)[:-1001]):
        measurement = measure(keep(tmp_path, content))
        assert measurement.format.frames == FRAMES - 501


def test_a_float_recording_that_ends_in_garbage_is_measured(tmp_path: Path) -> None:
    """After a loss of power the last blocks of a file may hold whatever the card held before."""
    head = chunk(b"fmt ", struct.pack("<HHIIHH", 3, 1, RATE_HZ, RATE_HZ * 4, 4, 32))
    garbage = np.full(500, np.nan, dtype="<f4").tobytes()
    content = wav(head, chunk(b"data", SAMPLES.astype("<f4").tobytes() + garbage, 0), size=0)
    measurement = measure(keep(tmp_path, content))
    assert codes(measurement) == ["size-not-set", "unusable-samples"]
    assert measurement.true_peak.true_peak_dbtp == pytest.approx(-12.0, abs=0.8)


@pytest.mark.parametrize(
    "after", [bytes(20_000), b"ID3\4" + b"\1" * 20_000, b"\1\2\3\4" * 100, chunk(b"note", b"x" * 20_000)]
)
def test_what_follows_the_sound_and_is_no_sound_is_not_measured(after: bytes, tmp_path: Path) -> None:
    """Zeros, a tag, less than a second of something, and a chunk that nobody knows."""
    measurement = measure(keep(tmp_path, WHOLE + after))
    assert measurement.format.frames == FRAMES
    assert set(codes(measurement)) <= {"trailing-bytes"}


def test_an_empty_recording_is_not_called_unfinished(tmp_path: Path) -> None:
    for content in (wav(fmt(), chunk(b"data", b"")), wav(fmt(), chunk(b"data", b""), chunk(b"LIST", b"INFO"))):
        with pytest.raises(NoSound):
            measure(keep(tmp_path, content))


def test_a_file_without_a_description_of_its_sound_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BrokenHeader):
        measure(keep(tmp_path, wav(DATA)))
    with pytest.raises(BrokenHeader, match="zeros"):
        measure(keep(tmp_path, bytes(512) + DATA))
    with pytest.raises(NotAudio):
        measure(keep(tmp_path, b"We write fmt and data, the fmt of the data being data.\n" * 40))


@pytest.mark.parametrize(("sound_bytes", "claimed"), [(2**32 + 2**20, 2**20), (2 * 2**32 + 64, 64), (2**32 + 800, 0)])
@pytest.mark.parametrize("tail", [b"", chunk(b"LIST", b"INFO")])
def test_sound_past_4_gib_is_found_although_its_size_does_not_fit_the_header(
    sound_bytes: int, claimed: int, tail: bytes, tmp_path: Path
) -> None:
    """The file is sparse: its four or eight thousand million zeros take no room, and only its header is read."""
    path = tmp_path / "a.wav"
    with path.open("wb") as file:
        head = wav(fmt(), b"data" + struct.pack("<I", claimed), size=claimed)
        file.write(head)
        file.seek(len(head) + sound_bytes)
        file.write(tail)
        file.truncate(len(head) + sound_bytes + len(tail))
    began = time.monotonic()
    source = open_source(path)
    found, structure = source.decoder.claimed_frames, [note.code for note in source.structure_by_header()]
    source.close()
    if claimed:
        assert (found, structure) == (sound_bytes // 2, ["size-wrapped"])
    else:  # nothing tells a size of zero that wrapped from one that was never written
        assert (found, structure) == ((sound_bytes + len(tail)) // 2, ["size-not-set"])
    assert time.monotonic() - began < 1


def test_rf64_past_4_gib_is_measured_by_its_ds64(tmp_path: Path) -> None:
    sound_bytes = 2**32 + 2**16
    path = tmp_path / "a.wav"
    with path.open("wb") as file:
        head = wav(ds64(sound_bytes), fmt(), b"data" + struct.pack("<I", 0xFFFFFFFF), form=b"RF64", size=0xFFFFFFFF)
        file.write(head)
        file.truncate(len(head) + sound_bytes)
    source = open_source(path)
    assert (source.decoder.claimed_frames, source.structure_by_header()) == (sound_bytes // 2, ())
    source.close()
