"""Described copies: the same samples, texts that other programs read, and what the recorder wrote kept."""

import json
import shutil
import struct
import subprocess
from pathlib import Path

import numpy as np
import pytest
import soundfile

import audio_qc
from audio_qc import NotDescribed, Texts, describe, samples_digest
from audio_qc.described import Loudness
from audio_qc.source import open_source
from tests.audio_qc.helpers import REFERENCE, needs_reference
from tests.needs import needs

RATE = 48_000
SOUND = np.random.default_rng(11).normal(0, 0.1, (RATE, 2))
TEXTS = Texts(
    title="Interview with Marit Oskarsen, 14 March 2026, part 1",
    people="Marit Oskarsen; Tobias Wrenfield",
    date="2026-03-14",
    comment="A described copy of TOLL0007.WAV. Forty years of the cable ferry – “both banks”.",
    rights="Open: anyone may hear it.",
    organisation="Alder Ferry Public Library",
    reference="2026-0042",
    software="oral history intake",
)


def a_wav(path: Path, subtype: str = "PCM_24", *chunks: tuple[bytes, bytes]) -> Path:
    """A WAV with these chunks before its sound."""
    soundfile.write(path, SOUND, RATE, subtype=subtype)
    content = path.read_bytes()
    added = b"".join(struct.pack("<4sI", name, len(body)) + body + bytes(len(body) % 2) for name, body in chunks)
    place = content.index(b"data")
    content = content[:place] + added + content[place:]
    path.write_bytes(content[:4] + struct.pack("<I", len(content) - 8) + content[8:])
    return path


def described(source: Path, **more) -> Path:
    target = source.with_name(f"described{source.suffix}")
    describe(source, target, TEXTS, **more)
    return target


def details_of(path: Path):
    return audio_qc.measure(path).details


def probed(path: Path) -> dict[str, str]:
    """The texts as FFmpeg's ffprobe reads them."""
    program = shutil.which("ffprobe")
    needs("ffprobe", program)
    command = [program, "-v", "error", "-show_entries", "format_tags", "-of", "json", path]
    told = json.loads(subprocess.run(command, check=True, capture_output=True).stdout)
    return {name.lower(): text for name, text in told["format"]["tags"].items()}


# WAV


@pytest.mark.parametrize("subtype", ["PCM_U8", "PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE"])
def test_the_samples_of_a_wav_are_the_same(tmp_path, subtype):
    source = a_wav(tmp_path / "a.wav", subtype)
    copy = described(source)
    assert samples_digest(copy) == samples_digest(source)
    assert np.array_equal(soundfile.read(copy)[0], soundfile.read(source)[0])
    assert audio_qc.measure(copy).structure == ()


def test_the_coded_bytes_of_a_wav_are_the_same(tmp_path):
    source = a_wav(tmp_path / "a.wav")
    copy = described(source)
    assert copy.read_bytes().endswith(source.read_bytes()[source.read_bytes().index(b"data") :])


def test_a_wav_says_in_bext_and_info_and_ixml_what_it_is(tmp_path):
    """EBU Tech 3285 version 2; RIFF INFO; iXML 1.61."""
    details = details_of(described(a_wav(tmp_path / "a.wav")))
    assert details.broadcast.version == 2
    assert details.broadcast.description.startswith(TEXTS.title)
    assert details.broadcast.originator == "Alder Ferry Public Library"
    assert details.broadcast.originator_reference == "2026-0042"
    assert details.broadcast.origination_date == "2026-03-14"
    assert "described copy" in details.broadcast.coding_history
    assert {text.key: text.text for text in details.info} == {
        "INAM": TEXTS.title,
        "IART": TEXTS.people,
        "ICRD": TEXTS.date,
        "ICMT": TEXTS.comment,
        "ICOP": TEXTS.rights,
        "ISRC": "Alder Ferry Public Library, 2026-0042",
        "ISFT": TEXTS.software,
    }
    assert (details.ixml.project, details.ixml.tape, details.ixml.note) == (
        "Alder Ferry Public Library",
        "2026-0042",
        TEXTS.title,
    )


def test_another_program_reads_the_texts_of_a_wav(tmp_path):
    """Source: FFmpeg's ffprobe."""
    told = probed(described(a_wav(tmp_path / "a.wav")))
    assert told["title"] == TEXTS.title
    assert told["date"] == "2026-03-14"
    assert told["originator_reference"] == "2026-0042"


def test_measured_loudness_stands_in_bext(tmp_path):
    """EBU Tech 3285 version 2: hundredths of a LUFS; 7FFFh for what was not measured."""
    copy = described(a_wav(tmp_path / "a.wav"), loudness=Loudness(integrated_lufs=-22.604, true_peak_dbtp=-3.1))
    broadcast = details_of(copy).broadcast
    assert (broadcast.loudness_lufs, broadcast.max_true_peak_dbtp) == (-22.6, -3.1)
    assert broadcast.loudness_range_lu is None


def test_what_the_recorder_wrote_stays(tmp_path):
    bext = (
        struct.pack(
            "<256s32s32s10s8sQH254x", b"scene", b"Recorder 9", b"R9-77", b"2026-03-13", b"10:11:12", 2**33 + 5, 1
        )
        + b"A=PCM,F=48000,W=24,M=stereo\r\n"
    )
    cue = struct.pack("<I", 1) + struct.pack("<II4sIII", 7, 0, b"data", 0, 0, 12_345)
    labels = b"adtl" + b"labl" + struct.pack("<I", 9) + struct.pack("<I", 7) + b"ferry\0"
    info = b"INFO" + b"IENG" + struct.pack("<I", 5) + b"Hand\0\0" + b"INAM" + struct.pack("<I", 4) + b"old\0"
    ixml = b"<BWFXML><SCENE>4</SCENE><TAKE>2</TAKE></BWFXML>"
    lists = [(b"LIST", labels), (b"LIST", info)]
    chunks = [(b"bext", bext), (b"cue ", cue), *lists, (b"iXML", ixml)]
    source = a_wav(tmp_path / "a.wav", "PCM_24", *chunks)
    copy = described(source)
    details = details_of(copy)
    broadcast = details.broadcast
    assert (broadcast.originator, broadcast.originator_reference) == ("Recorder 9", "R9-77")
    assert (broadcast.origination_date, broadcast.origination_time) == ("2026-03-13", "10:11:12")
    assert broadcast.time_reference_frames == 2**33 + 5
    assert broadcast.coding_history.startswith("A=PCM,F=48000,W=24,M=stereo")
    assert (details.ixml.scene, details.ixml.take) == ("4", "2")
    texts = {text.key: text.text for text in details.info}
    assert texts["IENG"] == "Hand"
    assert texts["INAM"] == TEXTS.title
    marks = audio_qc.measure(copy).marks
    assert [(mark.at_frame, mark.label) for mark in marks] == [(12_345, "ferry")]


def test_an_rf64_stays_one(tmp_path):
    soundfile.write(tmp_path / "a.wav", SOUND, RATE, format="RF64", subtype="PCM_24")
    copy = described(tmp_path / "a.wav")
    assert copy.read_bytes()[:4] == b"RF64"
    assert samples_digest(copy) == samples_digest(tmp_path / "a.wav")


def test_a_wav_whose_header_is_damaged_is_not_described(tmp_path):
    source = a_wav(tmp_path / "a.wav")
    content = bytearray(source.read_bytes())
    place = content.index(b"data")
    content[place + 4 : place + 8] = bytes(4)
    source.write_bytes(content)
    with pytest.raises(NotDescribed, match="salvaged copy"):
        described(source)
    assert [path.name for path in tmp_path.iterdir()] == ["a.wav"]


@needs_reference
def test_every_odd_header_gives_the_same_samples_or_a_sentence(tmp_path):
    """Source: the reference folder of odd and damaged headers."""
    made = 0
    for source in sorted((REFERENCE / "headers").glob("*.wav")):
        target = tmp_path / source.name
        try:
            describe(source, target, TEXTS)
        except audio_qc.AudioQCError:
            assert not target.exists()
        else:
            made += 1
            assert samples_digest(target) == samples_digest(source), source.name
    assert made > 5


# FLAC


@pytest.fixture
def flac(tmp_path) -> Path:
    program = shutil.which("flac")
    needs("the flac program", program)
    source = a_wav(tmp_path / "a.wav")
    subprocess.run([program, "--silent", "--tag=TITLE=old", "--tag=MICROPHONE=lavalier", source], check=True)
    return tmp_path / "a.flac"


def test_a_flac_is_described_and_passes_its_own_reference_decoder(flac):
    """Source: `flac --test` of Xiph.Org, which compares the decoded samples with the MD5 in the file."""
    copy = described(flac)
    subprocess.run(["flac", "--test", "--silent", copy], check=True)
    assert samples_digest(copy) == samples_digest(flac)


def test_a_flac_says_what_it_is_and_keeps_other_comments(flac):
    told = probed(described(flac))
    assert told["title"] == TEXTS.title
    assert told["copyright"] == TEXTS.rights
    assert told["catalognumber"] == "2026-0042"
    assert told["microphone"] == "lavalier"


def test_a_damaged_flac_is_refused(flac):
    content = bytearray(flac.read_bytes())
    content[4] = 4  # the first block is no STREAMINFO
    flac.write_bytes(content)
    with pytest.raises(audio_qc.AudioQCError):
        described(flac)
    assert not flac.with_name("described.flac").exists()


# MP3


@pytest.fixture
def mp3(tmp_path) -> Path:
    soundfile.write(tmp_path / "a.mp3", SOUND * 0.5, RATE, format="MP3")
    return tmp_path / "a.mp3"


def test_an_mp3_is_described_with_all_its_frames(mp3):
    """ID3v2.4.0, sections 3.1 and 4; read by FFmpeg's ffprobe."""
    copy = described(mp3)
    told = probed(copy)
    assert told["title"] == TEXTS.title
    assert told["date"] == "2026-03-14"
    assert samples_digest(copy) == samples_digest(mp3)
    again = copy.with_name("again.mp3")
    describe(copy, again, TEXTS)
    assert again.read_bytes() == copy.read_bytes()  # an older tag is replaced, not piled upon


# Others


def test_other_kinds_are_refused_in_a_sentence(tmp_path):
    soundfile.write(tmp_path / "a.ogg", SOUND, RATE, format="OGG")
    with pytest.raises(NotDescribed, match="WAV, FLAC and MP3"):
        described(tmp_path / "a.ogg")


def test_a_file_is_never_written_over(tmp_path):
    source = a_wav(tmp_path / "a.wav")
    with pytest.raises(FileExistsError):
        describe(source, source, TEXTS)
    assert open_source(source).frames_read == 0
    assert samples_digest(source)


def test_hostile_texts_stay_texts(tmp_path):
    source = a_wav(tmp_path / "a.wav")
    texts = Texts(**{**vars(TEXTS), "title": "</NOTE><x>\0\x07 & “Ørsted”", "reference": "R" * 500})
    describe(source, tmp_path / "b.wav", texts)
    details = details_of(tmp_path / "b.wav")
    assert "</NOTE><x>" in details.ixml.note
    assert details.broadcast.originator_reference == "R" * 32
    assert samples_digest(tmp_path / "b.wav") == samples_digest(source)
