"""Odd and damaged real headers: each gets a report or a refusal, quickly; marks and details are those in the files."""

import json
import time

import pytest

from audio_qc import AudioQCError, measure, report
from audio_qc.errors import BrokenHeader, NoSound
from audio_qc.measurement import SCHEMA
from tests.audio_qc.helpers import REFERENCE, files, needs_reference

pytestmark = needs_reference
HEADERS = REFERENCE / "headers"
REFUSED = {
    "fuzz_1.wav": BrokenHeader,
    "fuzz_oom.wav": BrokenHeader,
    "null.wav": NoSound,
}


@pytest.mark.parametrize("name", sorted(set(files("headers")) - set(REFUSED)))
def test_an_odd_header_gives_a_report_that_can_be_stored(name: str) -> None:
    measure(HEADERS / "mark_utf8.wav")  # whatever must be compiled is compiled before the clock starts
    began = time.monotonic()
    result = report(HEADERS / name)
    assert time.monotonic() - began < 5  # generous: it takes milliseconds
    assert json.loads(json.dumps(result.to_dict(), allow_nan=False))["measurement"]["schema"] == SCHEMA


@pytest.mark.parametrize("name", sorted(REFUSED))
def test_a_header_beyond_reading_is_refused_at_once(name: str) -> None:
    began = time.monotonic()
    with pytest.raises(REFUSED[name]) as refused:
        measure(HEADERS / name)
    assert isinstance(refused.value, AudioQCError)
    assert time.monotonic() - began < 5


MARKS = [("marks_2_clipped.wav", 2), ("mark_utf8.wav", 1), ("marks_17.wav", 17), ("marks_float.wav", 3)]


@pytest.mark.parametrize(("name", "count"), MARKS)
def test_recorders_marks_are_read(name: str, count: int) -> None:
    """manifest.tsv names the number of marks of the first three; the fourth was counted by its bytes."""
    measurement = measure(HEADERS / name)
    content = (HEADERS / name).read_bytes()
    at = content.index(b"cue ")
    assert int.from_bytes(content[at + 8 : at + 12], "little") == count
    assert len(measurement.marks) == count
    assert all(0 <= mark.at_frame <= measurement.format.frames for mark in measurement.marks)
    assert [mark.at_frame for mark in measurement.marks] == sorted(mark.at_frame for mark in measurement.marks)


def test_a_utf_8_label_keeps_its_letters() -> None:
    (mark,) = measure(HEADERS / "mark_utf8.wav").marks
    assert not mark.label.isascii()
    assert mark.label.encode() in (HEADERS / "mark_utf8.wav").read_bytes()


STRUCTURE = [
    ("early_eof.wav", ["truncated"]),
    ("odd_list_type.wav", ["truncated"]),
    ("unset_chunk_size.wav", ["size-not-set"]),
    ("bw64_no_ds64.wav", ["no-ds64"]),
    ("bw64_no_riff.wav", ["no-riff-id"]),
    ("bw64_wrong_fmt_size.wav", ["fmt-wrong"]),
    ("bw64_odd_data.wav", []),
    ("inconsistent.wav", ["fmt-wrong"]),
    ("awful.wav", ["fmt-wrong"]),  # 1 092 676 samples a second, and 44 100 by its bytes a second
    ("marks_17.wav", []),
    ("rifx_16bit.wav", []),
    ("rf64_float64_bext.wav", []),
]


@pytest.mark.parametrize(("name", "codes"), STRUCTURE)
def test_structure_notes_say_what_the_manifest_says(name: str, codes: list[str]) -> None:
    assert [note.code for note in measure(HEADERS / name).structure] == codes


def test_broadcast_details_of_a_real_recorder_are_read() -> None:
    for name in ("bext.wav", "bw64_bext.wav", "umid_silence.wav", "rf64_float64_bext.wav"):
        broadcast = measure(HEADERS / name).details.broadcast
        assert broadcast is not None, name
        assert broadcast.originator + broadcast.description + broadcast.origination_date


def test_the_umid_and_the_lengths_of_marks_are_those_in_the_files() -> None:
    """manifest.tsv: `umid_silence.wav` has a UMID in its bext, `marks_float.wav` marks with ltxt."""
    broadcast = measure(HEADERS / "umid_silence.wav").details.broadcast
    assert broadcast is not None
    assert broadcast.has_umid
    content = (HEADERS / "marks_float.wav").read_bytes()
    lengths = [int.from_bytes(content[at + 12 : at + 16], "little") for at in places(content, b"ltxt")]
    found = [mark.length_frames for mark in measure(HEADERS / "marks_float.wav").marks]
    assert [length for length in found if length] == lengths


def places(content: bytes, name: bytes) -> list[int]:
    return [at for at in range(len(content)) if content.startswith(name, at)]


def test_a_float_file_over_full_scale_keeps_its_peak() -> None:
    """manifest.tsv: peak +5.9 dBFS."""
    (level,) = measure(HEADERS / "float64_overflow.wav").levels.channels
    assert level.peak_dbfs == pytest.approx(5.9, abs=0.06)


def test_digital_silence_is_told_and_gives_no_numbers() -> None:
    measurement = measure(HEADERS / "umid_silence.wav")
    assert (measurement.true_peak.true_peak_dbtp, measurement.loudness.integrated_lufs) == (None, None)
    assert measurement.digital_silence.share_percent == (100.0,)
