"""Marks, `bext` and INFO from files built byte by byte, and headers that lie."""

import random
import struct
import time
import tracemalloc
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audio_qc import AudioQCError, Measurement, measure, report
from audio_qc.facts.file import IXML, Broadcast
from audio_qc.reading.details import MAX_MARKS, Written, read_written
from audio_qc.reading.riff import WavPlan, read_plan
from tests.signals import chunk, cue, fmt, labels, pcm16, tone, wav

RATE_HZ = 8_000
SOUND = chunk(b"data", pcm16(tone(2, -12.0, rate_hz=RATE_HZ)))


def measured(tmp_path: Path, content: bytes) -> Measurement:
    path = tmp_path / "a.wav"
    path.write_bytes(content)
    return measure(path)


def plan(tmp_path: Path, content: bytes) -> WavPlan | None:
    path = tmp_path / "a.wav"
    path.write_bytes(content)
    with path.open("rb") as file:
        return read_plan(file, len(content))


def written(path: Path) -> Written:
    with path.open("rb") as file:
        found = read_plan(file, path.stat().st_size)
        assert found is not None
        return read_written(file, found)


def test_marks_carry_their_labels_and_come_in_order(tmp_path: Path) -> None:
    content = wav(fmt(), cue((7, 12_000), (3, 4_000)), SOUND, labels((3, b"mother's shop"), (7, b"the ferry stops")))
    marks = measured(tmp_path, content).marks
    assert [(mark.at_frame, mark.at_seconds, mark.label) for mark in marks] == [
        (4_000, 0.5, "mother's shop"),
        (12_000, 1.5, "the ferry stops"),
    ]


@pytest.mark.parametrize(
    ("text", "label"),
    [
        ("Fähre läuft aus".encode(), "Fähre läuft aus"),
        ("Fähre läuft aus".encode("cp1252"), "Fähre läuft aus"),
        ("渡し船".encode(), "渡し船"),
        (b"\x81\x8d", "\ufffd\ufffd"),
        (b"", ""),
        (b"two\x07 \x1b[31mlines", "two [31mlines"),
    ],
)
def test_labels_are_read_as_utf_8_and_else_as_cp1252(text: bytes, label: str, tmp_path: Path) -> None:
    (mark,) = measured(tmp_path, wav(fmt(), cue((1, 0)), SOUND, labels((1, text)))).marks
    assert mark.label == label


def test_a_note_names_a_mark_that_has_no_label(tmp_path: Path) -> None:
    note = chunk(b"note", struct.pack("<I", 1) + b"door bell\0")
    (mark,) = measured(tmp_path, wav(fmt(), cue((1, 100)), SOUND, chunk(b"LIST", b"adtl" + note))).marks
    assert mark.label == "door bell"


def test_a_stretch_has_its_length_and_a_label_may_have_a_note_beside_it(tmp_path: Path) -> None:
    texts = chunk(b"labl", struct.pack("<I", 1) + b"song\0") + chunk(b"note", struct.pack("<I", 1) + b"two verses\0")
    stretches = b"".join(
        chunk(b"ltxt", struct.pack("<II4s4H", point, frames, b"rgn ", 0, 0, 0, 0))
        for point, frames in ((1, 2_000), (2, 10**9))
    )
    content = wav(fmt(), cue((1, 4_000), (2, 15_000), (3, 15_500)), SOUND, chunk(b"LIST", b"adtl" + texts + stretches))
    song, long, point = measured(tmp_path, content).marks
    assert (song.label, song.note, song.length_frames) == ("song", "two verses", 2_000)
    assert (long.label, long.length_frames) == ("", 1_000)  # ends with the sound
    assert (point.note, point.length_frames) == ("", 0)


def test_marks_past_the_end_are_left_out(tmp_path: Path) -> None:
    assert [mark.at_frame for mark in measured(tmp_path, wav(fmt(), cue((1, 15_999), (2, 16_001)), SOUND)).marks] == [
        15_999
    ]


def test_odd_chunks_are_padded_and_unknown_ones_skipped(tmp_path: Path) -> None:
    content = wav(chunk(b"junk", b"abc"), fmt(), chunk(b"what", b"x" * 77), SOUND, cue((1, 9)))
    measurement = measured(tmp_path, content)
    assert [mark.at_frame for mark in measurement.marks] == [9]
    assert measurement.structure == ()


def test_broadcast_details_are_read(tmp_path: Path) -> None:
    """Offsets of EBU Tech 3285: description, originator, reference, date, time, samples since midnight, version."""
    payload = b"The crossing years".ljust(256, b"\0") + b"Field recorder".ljust(32, b"\0") + b"AF-07".ljust(32, b"\0")
    payload += b"2026-05-03" + b"14:05:59" + struct.pack("<IIH", 5, 1, 1) + bytes(254) + b"A=PCM,F=8000,W=16,M=mono\r\n"
    broadcast = measured(tmp_path, wav(chunk(b"bext", payload), fmt(), SOUND)).details.broadcast
    assert broadcast is not None
    assert broadcast.description == "The crossing years"
    assert (broadcast.originator, broadcast.originator_reference) == ("Field recorder", "AF-07")
    assert (broadcast.origination_date, broadcast.origination_time) == ("2026-05-03", "14:05:59")
    assert (broadcast.time_reference_frames, broadcast.version) == (2**32 + 5, 1)
    assert broadcast.coding_history == "A=PCM,F=8000,W=16,M=mono"


def broadcast_of_version(tmp_path: Path, version: int, loudness: tuple[int, ...], umid: bytes) -> Broadcast:
    payload = bytes(338) + struct.pack("<IIH", 0, 0, version) + umid.ljust(64, b"\0") + struct.pack("<5h", *loudness)
    broadcast = measured(tmp_path, wav(chunk(b"bext", payload.ljust(602, b"\0")), fmt(), SOUND)).details.broadcast
    assert broadcast is not None
    return broadcast


def test_loudness_that_the_recorder_wrote_is_read_from_version_2_on(tmp_path: Path) -> None:
    """EBU Tech 3285 v2: hundredths of a unit; -22.60 LUFS is F72Ch, and 7FFFh is a figure that was not measured."""
    stored = (-2260, 0x7FFF, -130, -1805, -2000)
    assert struct.pack("<h", stored[0]) == bytes.fromhex("2cf7")
    two = broadcast_of_version(tmp_path, 2, stored, b"\x06\x0a")
    assert (two.loudness_lufs, two.loudness_range_lu, two.max_true_peak_dbtp) == (-22.6, None, -1.3)
    assert (two.max_momentary_lufs, two.max_short_term_lufs, two.has_umid) == (-18.05, -20.0, True)
    one = broadcast_of_version(tmp_path, 1, stored, b"")
    assert (one.loudness_lufs, one.max_true_peak_dbtp, one.has_umid) == (None, None, False)
    assert not broadcast_of_version(tmp_path, 0, stored, b"\x06").has_umid


IXML_TEXT = """<?xml version="1.0" encoding="UTF-8"?>
<BWFXML><IXML_VERSION>2.10</IXML_VERSION><PROJECT>The ferry years</PROJECT><SCENE>kitchen</SCENE><TAKE>3</TAKE>
<TAPE>2026Y05M03</TAPE><NOTE>clock strikes &amp; rain</NOTE><FILE_UID>AF07</FILE_UID>
<TRACK_LIST><TRACK_COUNT>2</TRACK_COUNT><TRACK><CHANNEL_INDEX>1</CHANNEL_INDEX><NAME>narrator</NAME></TRACK>
<TRACK><CHANNEL_INDEX>2</CHANNEL_INDEX><NAME>Fähre</NAME></TRACK></TRACK_LIST></BWFXML>"""


@pytest.mark.parametrize(
    "payload",
    [IXML_TEXT.encode(), IXML_TEXT.replace("UTF-8", "UTF-16").encode("utf-16"), IXML_TEXT.encode() + bytes(300)],
)
def test_ixml_tells_project_take_notes_and_tracks(payload: bytes, tmp_path: Path) -> None:
    ixml = measured(tmp_path, wav(fmt(), SOUND, chunk(b"iXML", payload))).details.ixml
    assert ixml == IXML(
        project="The ferry years", scene="kitchen", take="3", tape="2026Y05M03", note="clock strikes & rain",
        file_uid="AF07", track_names=("narrator", "Fähre"),
    )  # fmt: skip


LAUGHS = "".join(f'<!ENTITY l{n + 1} "{f"&l{n};" * 10}">' for n in range(9))
REFUSED_IXML = [
    pytest.param(f'<!DOCTYPE x [<!ENTITY l0 "ha">{LAUGHS}]><BWFXML><NOTE>&l9;</NOTE></BWFXML>', id="entities"),
    pytest.param('<!DOCTYPE x SYSTEM "file:///etc/hostname"><BWFXML/>', id="a document type"),
    pytest.param(
        '<!DOCTYPE x [<!ENTITY e SYSTEM "file:///etc/hostname">]><BWFXML><NOTE>&e;</NOTE></BWFXML>', id="a file"
    ),
    pytest.param("<BWFXML>" + "<a>" * 5_000, id="depth"),
    pytest.param("<BWFXML>" + "<a/>" * 50_000 + "</BWFXML>", id="a crowd"),
    pytest.param("<BWFXML><NOTE>cut", id="cut off"),
    pytest.param("<?xml version='1.0' encoding='nonsense'?><BWFXML/>", id="an encoding that does not exist"),
    pytest.param("<html/>", id="something else"),
    pytest.param("", id="nothing"),
]


@pytest.mark.parametrize("text", REFUSED_IXML)
def test_no_trick_with_xml_gets_anywhere(text: str, tmp_path: Path) -> None:
    began = time.monotonic()
    assert measured(tmp_path, wav(fmt(), SOUND, chunk(b"iXML", text.encode()))).details.ixml is None
    assert time.monotonic() - began < 5


def test_info_texts_are_read(tmp_path: Path) -> None:
    info = chunk(b"LIST", b"INFO" + chunk(b"INAM", b"Part one\0") + chunk(b"ISFT", b"recorder 2\0"))
    texts = measured(tmp_path, wav(fmt(), info, SOUND)).details.info
    assert [(text.key, text.text) for text in texts] == [("INAM", "Part one"), ("ISFT", "recorder 2")]


def test_bytes_after_the_last_chunk_are_told(tmp_path: Path) -> None:
    codes = [note.code for note in measured(tmp_path, wav(fmt(), SOUND) + b"\0" * 5).structure]
    assert codes == ["trailing-bytes"]


def test_rf64_sizes_come_from_its_ds64_chunk(tmp_path: Path) -> None:
    samples = pcm16(tone(2, -12.0, rate_hz=RATE_HZ))
    sizes = chunk(b"ds64", struct.pack("<QQQI", 0, len(samples), 16_000, 0))
    data = chunk(b"data", samples, 0xFFFFFFFF)
    found = measured(tmp_path, wav(sizes, fmt(), data, cue((1, 5)), form=b"RF64", size=0xFFFFFFFF))
    assert (found.structure, [mark.at_frame for mark in found.marks]) == ((), [5])
    without = measured(tmp_path, wav(fmt(), data, form=b"RF64", size=0xFFFFFFFF))
    assert [note.code for note in without.structure] == ["no-ds64", "size-not-set"]


def test_other_files_have_no_chunks(tmp_path: Path) -> None:
    assert plan(tmp_path, b"fLaC" + bytes(40)) is None
    assert plan(tmp_path, b"RIFF") is None


HUGE = 0xFFFFFFF0
LYING = [
    pytest.param(chunk(b"cue ", struct.pack("<I", 0xFFFFFFFF) + bytes(48)), id="four thousand million marks claimed"),
    pytest.param(chunk(b"cue ", struct.pack("<I", 3), HUGE), id="cue chunk larger than the file"),
    pytest.param(chunk(b"LIST", b"adtl" + chunk(b"labl", b"\1\0\0\0x", HUGE)), id="label larger than the file"),
    pytest.param(chunk(b"bext", b"x" * 700, HUGE), id="bext larger than the file"),
    pytest.param(chunk(b"LIST", b"INFO" + chunk(b"INAM", b"x", HUGE)), id="text larger than the file"),
    pytest.param(chunk(b"LIST", b""), id="list without a type"),
    pytest.param(chunk(b"cue ", b""), id="cue chunk without a count"),
    pytest.param(b"".join(chunk(b"junk", b"") for _ in range(200_000)), id="two hundred thousand chunks"),
    pytest.param(b"".join(chunk(b"LIST", b"adtl" * 500) for _ in range(3_000)), id="three thousand lists"),
    pytest.param(chunk(b"LIST", b"adtl" + bytes(1_000_000)) * 60, id="sixty lists of a million bytes"),
    pytest.param(cue(*((n, n) for n in range(60_000))), id="sixty thousand marks"),
    pytest.param(
        chunk(b"LIST", b"adtl" + chunk(b"labl", b"\1\0\0\0" + b"x" * 5_000_000)), id="label of five million bytes"
    ),
]


@pytest.mark.parametrize("lie", LYING)
def test_a_lying_header_costs_neither_time_nor_memory(lie: bytes, tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    path.write_bytes(wav(fmt(), SOUND, lie))
    tracemalloc.start()
    began = time.monotonic()
    found = written(path)
    taken, (_, peak) = time.monotonic() - began, tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert taken < 5  # generous: it takes milliseconds
    assert peak < 40_000_000
    assert len(found.marks) <= MAX_MARKS
    assert isinstance(report(path).measurement, Measurement)


WHOLE = wav(
    chunk(b"bext", bytes(610)), fmt(), cue((1, 50), (2, 900)), SOUND, labels((1, b"one"), (2, b"two")),
    chunk(b"LIST", b"INFO" + chunk(b"INAM", b"Part one\0")),
)  # fmt: skip


@settings(max_examples=150, deadline=None)
@given(seed=st.integers(0, 2**32), changes=st.integers(1, 12), cut=st.floats(0.0, 1.0))
def test_any_damage_to_a_header_gives_a_report_or_a_refusal(
    seed: int, changes: int, cut: float, tmp_path_factory: pytest.TempPathFactory
) -> None:
    dice = random.Random(seed)
    content = bytearray(WHOLE)
    places = [n for n in range(len(content)) if n < 760 or n > len(content) - 120]
    for _ in range(changes):
        content[dice.choice(places)] = dice.choice((0, 1, 0x7F, 0x80, 0xFF, dice.randrange(256)))
    path = tmp_path_factory.mktemp("damaged") / "a.wav"
    path.write_bytes(content[: max(1, round(len(content) * (cut if cut < 0.5 else 1.0)))])
    try:
        result = report(path)
    except AudioQCError as refused:
        result = None
        sentence = str(refused)
    assert result is not None or sentence.endswith(".")
    assert result is None or np.isfinite(result.measurement.format.seconds)
