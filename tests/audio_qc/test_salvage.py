"""Salvaged copies: a true header in front of the very same samples, in a new file, and the original untouched."""

import os
import resource
import struct
from pathlib import Path

import numpy as np
import pytest
import soundfile

from audio_qc import AudioQCError, NotSalvaged, Salvaged, Unreadable, measure, salvage
from audio_qc.errors import BrokenHeader
from audio_qc.reading.mended import true_header
from audio_qc.reading.riff import WavPlan, read_plan
from tests.audio_qc.encoding import encode
from tests.audio_qc.helpers import REFERENCE, files, needs_reference
from tests.audio_qc.test_damaged_wav import DAMAGES
from tests.audio_qc.test_formats import index_first
from tests.signals import chunk, cue, fmt, labels, noise, pcm16, stereo, tone, wav, write

SAMPLES = np.random.default_rng(5).integers(-8_388_608, 8_388_607, (5_000, 2))
UNFINISHED_SIZES = [0, 0xFFFFFFFF]


def keep(tmp_path: Path, content: bytes, name: str = "a.wav") -> Path:
    path = tmp_path / name
    path.write_bytes(content)
    return path


def salvaged(path: Path) -> tuple[Salvaged, Path]:
    before = (path.read_bytes(), path.stat().st_mtime_ns)
    target = path.with_name("salvaged.wav")
    facts = salvage(path, target)
    assert (path.read_bytes(), path.stat().st_mtime_ns) == before
    assert facts.file_bytes == target.stat().st_size
    assert {one.name for one in path.parent.iterdir()} == {path.name, target.name}
    return facts, target


@pytest.mark.parametrize(("content", "codes"), DAMAGES)
def test_every_damage_that_can_be_mended_is(content: bytes, codes: list[str], tmp_path: Path) -> None:
    path = keep(tmp_path, content)
    measured = measure(path)
    if not measured.salvageable:
        with pytest.raises(NotSalvaged, match="nothing to mend"):
            salvage(path, tmp_path / "b.wav")
        return
    facts, target = salvaged(path)
    assert [note.code for note in facts.mended] == codes
    copy = measure(target)
    assert (copy.structure, copy.salvageable) == ((), False)
    assert copy.format.frames == facts.frames == measured.format.frames
    assert copy.loudness == measured.loudness


@pytest.mark.parametrize("subtype", ["PCM_U8", "PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE", "ULAW", "IMA_ADPCM"])
@pytest.mark.parametrize("form", ["WAV", "WAVEX", "RF64"])
def test_samples_are_the_same_bit_for_bit(subtype: str, form: str, tmp_path: Path) -> None:
    if form != "WAV" and subtype == "IMA_ADPCM":
        pytest.skip("libsndfile writes no such file")
    whole = write(tmp_path / "whole.wav", SAMPLES / 2**23, subtype=subtype, format=form)
    known, _ = soundfile.read(whole, dtype="float64")
    content = bytearray(whole.read_bytes())
    whole.unlink()
    at = content.index(b"data")
    content[at + 4 : at + 8] = struct.pack("<I", 0xFFFFFFFF)
    if form == "RF64":
        content[content.index(b"ds64") + 16 : content.index(b"ds64") + 24] = bytes(8)
    facts, target = salvaged(keep(tmp_path, bytes(content)))
    found, rate_hz = soundfile.read(target, dtype="float64")
    assert (facts.method, facts.subtype, rate_hz) == ("copied", subtype, 48_000)
    assert np.array_equal(found[: len(known)], known)
    assert len(found) - len(known) <= len(known) * 0.05  # what followed the sound is part of it, its size being unknown


def test_big_endian_sound_stays_as_it_is(tmp_path: Path) -> None:
    whole = write(tmp_path / "whole.wav", SAMPLES / 2**23, subtype="PCM_24", endian="BIG", format="WAV")
    known = soundfile.read(whole, dtype="int32")[0]
    content = whole.read_bytes()
    whole.unlink()
    assert content[:4] == b"RIFX"
    facts, target = salvaged(keep(tmp_path, content[:-6_000]))
    assert target.read_bytes()[:4] == b"RIFX"
    assert np.array_equal(soundfile.read(target, dtype="int32")[0], known[:-1_000])
    assert facts.frames == 4_000


def test_whole_chunks_go_along_and_cut_ones_do_not(tmp_path: Path) -> None:
    bext = chunk(b"bext", b"The crossing years".ljust(610, b"\0"))
    data = chunk(b"data", pcm16(tone(1, -12.0, rate_hz=8_000)))
    tail = cue((1, 4_000)) + labels((1, b"ferry")) + chunk(b"iXML", b"<BWFXML/>", 5_000)
    content = wav(bext, b"\xff" * 100, fmt(), data, tail)
    facts, target = salvaged(keep(tmp_path, content))
    assert facts.kept_chunks == ("bext", "cue ", "LIST")
    measurement = measure(target)
    assert measurement.details.broadcast is not None
    assert measurement.details.broadcast.description == "The crossing years"
    assert [(mark.at_frame, mark.label) for mark in measurement.marks] == [(4_000, "ferry")]


def test_a_true_header_past_4_gib_is_rf64_and_leads_to_the_sound(tmp_path: Path) -> None:
    path, sound_bytes = tmp_path / "a.wav", 2**32 + 4_000
    small = plan_of(keep(tmp_path, wav(fmt(), chunk(b"data", bytes(100), 0), size=0)))
    head = b"".join(true_header(small, sound_bytes))
    with path.open("wb") as file:
        file.write(head)
        file.truncate(len(head) + sound_bytes)
    found = plan_of(path)
    assert (found.form, found.sound_offset, found.sound_bytes) == (b"RF64", len(head), sound_bytes)
    assert found.structure == ()
    assert len(head) == len(b"".join(true_header(small, 100)))


def plan_of(path: Path) -> WavPlan:
    with path.open("rb") as file:
        plan = read_plan(file, path.stat().st_size)
    assert plan is not None
    return plan


@pytest.mark.skipif("AUDIO_QC_LONG" not in os.environ, reason="AUDIO_QC_LONG is not set: this writes 4 GiB")
def test_sound_past_4_gib_becomes_rf64(tmp_path: Path) -> None:
    sound_bytes = 2**32 + 4_000
    path, target = tmp_path / "a.wav", tmp_path / "b.wav"
    with path.open("wb") as file:
        head = wav(fmt(), b"data" + struct.pack("<I", 4_000), size=4_036)
        file.write(head)
        file.truncate(len(head) + sound_bytes)
    told: list[float] = []
    facts = salvage(path, target, progress=told.append)
    assert (facts.container, facts.frames) == ("RF64", sound_bytes // 2)
    assert told == sorted(told)
    assert (len(told) > 100, told[-1]) == (True, 1.0)
    assert target.stat().st_size == facts.file_bytes == sound_bytes + 12 + 36 + 24 + 8
    target.unlink()


@pytest.mark.parametrize(("ending", "subtype"), [("flac", "PCM_16"), ("flac", "PCM_24"), ("aiff", "PCM_24")])
def test_what_decodes_of_a_lossless_file_is_kept_bit_for_bit(ending: str, subtype: str, tmp_path: Path) -> None:
    whole = write(tmp_path / f"whole.{ending}", stereo(noise(4, -20.0), noise(4, -30.0, seed=2)), subtype=subtype)
    known = soundfile.read(whole, dtype="int32")[0]
    content = whole.read_bytes()
    whole.unlink()
    facts, target = salvaged(keep(tmp_path, content[: len(content) // 2], f"a.{ending}"))
    found = soundfile.read(target, dtype="int32")[0]
    assert (facts.method, facts.container, facts.subtype) == ("decoded", "WAV", subtype)
    assert 80_000 < len(found) < 110_000
    assert np.array_equal(found, known[: len(found)])
    assert measure(target).structure == ()


def test_an_alac_file_keeps_its_word_length(tmp_path: Path) -> None:
    sound = noise(8, -20.0)
    content = index_first(encode(tmp_path / "a.m4a", "alac", sound, "s16p").read_bytes())
    (tmp_path / "a.m4a").unlink()
    facts, target = salvaged(keep(tmp_path, content[: len(content) // 2], "a.m4a"))
    assert (facts.method, facts.subtype) == ("decoded", "PCM_16")
    found = soundfile.read(target, dtype="int16")[0]
    difference = found / 32768 - sound[: len(found)]
    assert np.abs(difference).max() <= 1 / 32768


def test_what_decodes_of_a_coded_file_is_kept_as_float(tmp_path: Path) -> None:
    content = index_first(encode(tmp_path / "a.m4a", "aac", tone(20, -12.0), "fltp").read_bytes())
    (tmp_path / "a.m4a").unlink()
    path = keep(tmp_path, content[: len(content) // 2], "a.m4a")
    known = measure(path)
    facts, target = salvaged(path)
    assert (facts.subtype, facts.frames) == ("FLOAT", known.format.frames)
    assert measure(target).loudness.integrated_lufs == pytest.approx(known.loudness.integrated_lufs, abs=1e-6)


def test_an_existing_file_is_never_replaced(tmp_path: Path) -> None:
    path = keep(tmp_path, wav(fmt(), chunk(b"data", bytes(1_000), 0), size=0))
    other = keep(tmp_path, b"something else", "other.wav")
    for target in (other, path):
        with pytest.raises(NotSalvaged, match="already"):
            salvage(path, target)
    assert other.read_bytes() == b"something else"


def test_nothing_is_left_behind_when_no_copy_is_made(tmp_path: Path) -> None:
    whole = write(tmp_path / "a.wav", tone(1, -12.0))
    whole_flac = write(tmp_path / "a.flac", tone(1, -12.0), subtype="PCM_16")
    letter = keep(tmp_path, b"Dear all,\n", "letter.wav")
    m4a = encode(tmp_path / "a.m4a", "aac", tone(1, -12.0), "fltp")
    m4a.write_bytes(m4a.read_bytes()[: m4a.read_bytes().index(b"moov") - 4])
    before = sorted(tmp_path.iterdir())
    for path, kind in ((whole, NotSalvaged), (whole_flac, NotSalvaged), (letter, Unreadable), (m4a, BrokenHeader)):
        with pytest.raises(kind) as refused:
            salvage(path, tmp_path / "b.wav")
        assert str(refused.value).endswith(".")
    with pytest.raises(NotSalvaged, match="room"):
        salvage(keep(tmp_path, wav(fmt(), chunk(b"data", bytes(1_000), 0), size=0)), tmp_path / "none" / "b.wav")
    assert sorted(tmp_path.iterdir()) == before


def test_a_copy_for_which_there_is_no_room_leaves_nothing_behind(tmp_path: Path) -> None:
    path = keep(tmp_path, wav(fmt(), chunk(b"data", bytes(400_000), 0), size=0))
    _, most = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, most))
    try:
        with pytest.raises(NotSalvaged, match="room"):
            salvage(path, tmp_path / "b.wav")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))
    assert list(tmp_path.iterdir()) == [path]


def test_an_error_while_showing_progress_leaves_no_copy(tmp_path: Path) -> None:
    path = keep(tmp_path, wav(fmt(), chunk(b"data", bytes(1_000), 0), size=0))

    def stop(share: float) -> None:
        raise InterruptedError

    with pytest.raises((InterruptedError, AudioQCError)):
        salvage(path, tmp_path / "b.wav", progress=stop)
    assert list(tmp_path.iterdir()) == [path]


@needs_reference
@pytest.mark.parametrize("name", files("headers"))
def test_every_real_damaged_header_is_mended_or_refused(name: str, tmp_path: Path) -> None:
    path, target = REFERENCE / "headers" / name, tmp_path / "b.wav"
    try:
        measured = measure(path)
    except Unreadable:
        with pytest.raises(Unreadable):
            salvage(path, target)
        return
    if not measured.salvageable:
        with pytest.raises(NotSalvaged):
            salvage(path, target)
        return
    salvage(path, target)
    copy = measure(target)
    assert (copy.structure, copy.loudness, copy.marks) == ((), measured.loudness, measured.marks)
