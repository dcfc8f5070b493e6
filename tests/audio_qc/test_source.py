"""Opening files: every kind that is read, and a plain sentence for everything else."""

import os
import threading
from pathlib import Path

import numpy as np
import pytest

from audio_qc import Unreadable, measure, report
from audio_qc.errors import BrokenHeader, EmptyFile, NoSound, NotAudio, UnsupportedFormat
from audio_qc.source import open_source
from tests.signals import chunk, fmt, noise, pcm16, silence, stereo, tone, wav, write

KINDS = [
    ("wav", "PCM_16", 16, 1e-4),
    ("wav", "PCM_24", 24, 1e-6),
    ("wav", "PCM_32", 32, 1e-8),
    ("wav", "PCM_U8", 8, 1e-2),
    ("wav", "FLOAT", 32, 1e-6),
    ("wav", "DOUBLE", 64, 1e-12),
    ("wav", "ULAW", 8, 0.05),
    ("aiff", "PCM_24", 24, 1e-6),
    ("flac", "PCM_16", 16, 1e-4),
    ("ogg", "VORBIS", None, 0.1),
    ("mp3", "MPEG_LAYER_III", None, 0.1),
]


@pytest.mark.parametrize(("ending", "subtype", "bits", "accuracy"), KINDS)
def test_every_kind_of_file_is_measured(
    ending: str, subtype: str, bits: int | None, accuracy: float, tmp_path: Path
) -> None:
    path = write(tmp_path / f"a.{ending}", stereo(tone(2, -12.0)), subtype=subtype)
    measurement = measure(path)
    facts = measurement.format
    assert (facts.subtype, facts.bits_per_sample, facts.sample_rate_hz, facts.channels) == (subtype, bits, 48_000, 2)
    assert facts.seconds == pytest.approx(2.0, abs=0.06)  # MP3 and Ogg pad
    assert facts.file_bytes == path.stat().st_size
    assert measurement.levels.channels[0].rms_dbfs == pytest.approx(-15.0103, abs=max(accuracy, 1e-4) * 8)
    assert measurement.structure == ()


@pytest.mark.parametrize("rate_hz", [8_000, 11_025, 96_000, 192_000])
@pytest.mark.parametrize("channels", [1, 3, 8])
def test_every_rate_and_number_of_channels_is_measured(rate_hz: int, channels: int, tmp_path: Path) -> None:
    sound = np.stack([tone(0.5, -6.0 * (n + 1), rate_hz=rate_hz) for n in range(channels)], axis=1)
    measurement = measure(write(tmp_path / "a.wav", sound, rate_hz))
    assert (measurement.format.sample_rate_hz, measurement.format.seconds) == (rate_hz, pytest.approx(0.5, abs=1e-4))
    found = [level.rms_dbfs for level in measurement.levels.channels]
    assert found == pytest.approx([-6.0 * (n + 1) - 3.01 for n in range(channels)], abs=0.01)


def test_rf64_is_measured(tmp_path: Path) -> None:
    path = write(tmp_path / "a.wav", tone(1, -12.0), format="RF64")
    assert (measure(path).format.container, measure(path).structure) == ("RF64", ())


@pytest.mark.parametrize("ending", ["raw", "vox", "sd2", "txt", ""])
def test_the_name_of_a_file_decides_nothing(ending: str, tmp_path: Path) -> None:
    original = write(tmp_path / "a.wav", tone(1, -12.0))
    renamed = original.rename(tmp_path / f"b.{ending}")
    assert measure(renamed).format.container == "WAV"


REFUSED = [
    pytest.param(b"", EmptyFile, id="no bytes"),
    pytest.param(b"Dear all,\n\nplease find attached the recording.\n", NotAudio, id="text"),
    pytest.param(b"\x89PNG\r\n\x1a\n" + bytes(100), NotAudio, id="picture"),
    pytest.param(b"RIFF", BrokenHeader, id="four bytes"),
    pytest.param(b"RIFF\x24\0\0\0WAVEfmt ", BrokenHeader, id="cut in the header"),
    pytest.param(b"RIFF\x24\0\0\0AVI LIST" + bytes(100), Unreadable, id="video"),
    pytest.param(wav(fmt(), chunk(b"data", b"")), NoSound, id="header alone"),
    pytest.param(wav(fmt(rate_hz=0), chunk(b"data", bytes(100))), Unreadable, id="no sample rate"),
    pytest.param(wav(fmt(rate_hz=50), chunk(b"data", bytes(100))), UnsupportedFormat, id="absurd low rate"),
    pytest.param(wav(fmt(rate_hz=2_000_000_000), chunk(b"data", bytes(100))), Unreadable, id="absurd high rate"),
    pytest.param(wav(fmt(channels=600), chunk(b"data", bytes(2400))), Unreadable, id="600 channels"),
    pytest.param(b"\0\0\0\x20ftypM4A " + bytes(100), BrokenHeader, id="M4A without an index"),
    pytest.param(b"#!AMR\n" + b"\xff" * 100, Unreadable, id="AMR of nonsense"),
    pytest.param(bytes.fromhex("1a45dfa3") + bytes(100), BrokenHeader, id="WebM of nothing"),
    pytest.param(bytes.fromhex("fff14c80") + bytes(100), Unreadable, id="AAC of nothing"),
    pytest.param(bytes.fromhex("3026b2758e66cf11") + bytes(100), BrokenHeader, id="Windows Media of nothing"),
    pytest.param(b"ID3\4\0\0\0\0\0\2xx" + b"Dear all,", BrokenHeader, id="a tag before text"),
    pytest.param(b"MATLAB 5.0 MAT-file" + bytes(200), NotAudio, id="a container nobody records in"),
]


@pytest.mark.parametrize(("content", "kind"), REFUSED)
def test_what_cannot_be_measured_is_refused_in_one_sentence(
    content: bytes, kind: type[Unreadable], tmp_path: Path
) -> None:
    path = tmp_path / "recording.wav"
    path.write_bytes(content)
    with pytest.raises(kind) as refused:
        report(path)
    sentence = str(refused.value)
    assert sentence.endswith(".")
    assert sentence.count(". ") == 0
    assert str(tmp_path) not in sentence


def test_a_missing_file_a_folder_and_a_pipe_are_refused_at_once(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe.wav"
    os.mkfifo(pipe)
    for path in (tmp_path / "none.wav", tmp_path, pipe):
        with pytest.raises(Unreadable):
            measure(path)


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf, 1e30, -1e300])
def test_samples_that_are_no_usable_numbers_are_silenced_and_told(bad: float, tmp_path: Path) -> None:
    samples = tone(2, -12.0)
    samples[1000:1010] = bad
    result = report(write(tmp_path / "a.wav", samples, subtype="DOUBLE"))
    assert [(note.code, note.detail[:3]) for note in result.measurement.structure] == [("unusable-samples", "10 ")]
    assert result.measurement.true_peak.true_peak_dbtp == pytest.approx(-12.0, abs=0.8)
    assert "look closer" in [finding.standing for finding in result.findings if finding.measure == "structure"]


def test_a_file_of_nothing_but_nan_gives_a_report_without_numbers(tmp_path: Path) -> None:
    result = report(write(tmp_path / "a.wav", np.full((48_000, 2), np.nan), subtype="FLOAT"))
    measurement = result.measurement
    assert measurement.loudness.integrated_lufs is None
    assert measurement.true_peak.true_peak_dbtp is None
    assert measurement.noise.noise_floor_dbfs is None
    assert [level.rms_dbfs for level in measurement.levels.channels] == [None, None]


def test_float_samples_over_full_scale_are_kept(tmp_path: Path) -> None:
    assert measure(write(tmp_path / "a.wav", tone(1, 6.0), subtype="FLOAT")).levels.channels[0].peak_dbfs == (
        pytest.approx(6.0, abs=1e-4)
    )


def test_truncated_sound_is_measured_as_far_as_it_goes(tmp_path: Path) -> None:
    whole = wav(fmt(), chunk(b"data", pcm16(tone(4, -12.0, rate_hz=8_000))))
    path = tmp_path / "a.wav"
    path.write_bytes(whole[: len(whole) // 2])
    measurement = measure(path)
    assert measurement.format.seconds == pytest.approx(2.0, abs=0.01)
    assert measurement.loudness.integrated_lufs == pytest.approx(-12.0 - 3.0, abs=0.2)
    (note,) = measurement.structure
    assert note.code == "truncated"


def test_a_flac_cut_short_is_measured_as_far_as_it_goes(tmp_path: Path) -> None:
    path = write(tmp_path / "a.flac", noise(10, -20.0), subtype="PCM_16")
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    measurement = measure(path)
    assert 4.9 < measurement.format.seconds < 5.1  # nothing of the block in which it ends is lost
    assert [note.code for note in measurement.structure] in (["truncated"], ["damaged"])


@pytest.mark.parametrize(
    ("ending", "subtype"),
    [("aiff", "PCM_24"), ("au", "PCM_16"), ("w64", "PCM_24"), ("ogg", "VORBIS"), ("mp3", "MPEG_LAYER_III")],
)
def test_other_files_cut_short_are_told(ending: str, subtype: str, tmp_path: Path) -> None:
    path = write(tmp_path / f"a.{ending}", noise(10, -20.0), subtype=subtype)
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    measurement = measure(path)
    assert 3.0 < measurement.format.seconds < 6.0
    assert [note.code for note in measurement.structure] == ["truncated"]
    assert measurement.salvageable


def test_an_unfinished_aiff_is_measured_and_told(tmp_path: Path) -> None:
    path = write(tmp_path / "a.aiff", noise(2, -20.0))
    content = bytearray(path.read_bytes())
    for place in (4, content.index(b"COMM") + 10, content.index(b"SSND") + 4):
        content[place : place + 4] = bytes(4)
    path.write_bytes(content)
    measurement = measure(path)
    assert (measurement.format.frames, [note.code for note in measurement.structure]) == (96_000, ["size-not-set"])


def test_a_flac_damaged_inside_says_so(tmp_path: Path) -> None:
    path = write(tmp_path / "a.flac", noise(5, -20.0), subtype="PCM_16")
    content = bytearray(path.read_bytes())
    content[len(content) // 3 : len(content) // 3 + 20_000] = bytes(20_000)
    path.write_bytes(content)
    measurement = measure(path)
    assert 0 < measurement.format.seconds <= 5.0
    assert {note.code for note in measurement.structure} <= {"truncated", "damaged"}
    assert measurement.structure


def test_a_flac_stream_of_unknown_length_is_whole(tmp_path: Path) -> None:
    """Length 0 in STREAMINFO (RFC 9639, 36 bits from byte 21) means that the encoder did not know it."""
    path = write(tmp_path / "a.flac", tone(2.1, -12.0), subtype="PCM_16")
    content = bytearray(path.read_bytes())
    content[21] &= 0xF0
    content[22:26] = bytes(4)
    path.write_bytes(content)
    measurement = measure(path)
    assert (measurement.format.frames, measurement.structure) == (round(2.1 * 48_000), ())


def unfinished(size: int) -> bytes:
    return wav(fmt(), chunk(b"data", pcm16(tone(2, -12.0, rate_hz=8_000)), size), size=size)


def test_an_unset_size_is_read_to_the_end_and_told(tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    path.write_bytes(unfinished(0xFFFFFFFF))
    measurement = measure(path)
    assert measurement.format.frames == 16_000
    assert [note.code for note in measurement.structure] == ["size-not-set"]


def test_a_size_of_zero_before_sound_is_read_to_the_end_and_told(tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    path.write_bytes(unfinished(0))
    measurement = measure(path)
    assert measurement.format.frames == 16_000
    assert [note.code for note in measurement.structure] == ["size-not-set"]
    assert measurement.salvageable


def test_progress_rises_to_one(tmp_path: Path) -> None:
    told: list[float] = []
    measure(write(tmp_path / "a.wav", noise(30, -20.0)), progress=told.append)
    assert told[-1] == 1.0
    assert told == sorted(told)


def test_an_error_while_showing_progress_ends_the_reading_and_leaves_no_thread(tmp_path: Path) -> None:
    path, before = write(tmp_path / "a.wav", silence(5)), threading.active_count()

    def stop(share: float) -> None:
        raise InterruptedError

    with pytest.raises(InterruptedError):
        measure(path, progress=stop)
    assert threading.active_count() == before


def test_blocks_are_channels_by_frames_and_contiguous(tmp_path: Path) -> None:
    samples = stereo(tone(1, -12.0), tone(1, -20.0))
    source = open_source(write(tmp_path / "a.wav", samples, subtype="DOUBLE"))
    blocks = list(source.blocks(10_000))
    source.close()
    assert {block.shape[0] for block in blocks} == {2}
    assert all(block.flags.c_contiguous for block in blocks)
    assert np.array_equal(np.concatenate(blocks, axis=1).T, samples)


def test_the_file_is_never_written_to(tmp_path: Path) -> None:
    path = write(tmp_path / "a.wav", tone(1, -12.0))
    path.chmod(0o400)
    before = (path.read_bytes(), path.stat().st_mtime_ns)
    measure(path)
    assert (path.read_bytes(), path.stat().st_mtime_ns) == before
