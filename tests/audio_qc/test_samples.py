"""The digest of the samples: one for one sound, whatever carries it, and another for any other sound."""

import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
import soundfile

import audio_qc
from audio_qc import samples_digest
from tests.needs import needs

RATE = 48_000
SOUND = np.random.default_rng(5).integers(-(2**23), 2**23, (100_003, 2), dtype=np.int32) << 8


def written(path: Path, sound: np.ndarray = SOUND, *, rate: int = RATE, subtype: str = "PCM_24") -> Path:
    soundfile.write(path, sound, rate, subtype=subtype)
    return path


@pytest.fixture
def wav(tmp_path) -> Path:
    return written(tmp_path / "a.wav")


def test_the_measurement_has_the_same_digest_as_the_function(wav):
    assert audio_qc.measure(wav).format.samples_sha256 == samples_digest(wav)


@pytest.mark.parametrize(("name", "subtype"), [("b.flac", "PCM_24"), ("b.aiff", "PCM_24"), ("b.w64", "PCM_32")])
def test_another_lossless_container_has_the_same_digest(wav, tmp_path, name, subtype):
    assert samples_digest(written(tmp_path / name, subtype=subtype)) == samples_digest(wav)


def test_a_flac_made_by_the_reference_encoder_has_the_same_digest(wav, tmp_path):
    """Source: the `flac` program of Xiph.Org."""
    program = shutil.which("flac")
    needs("the flac program", program)
    subprocess.run([program, "--silent", "-o", tmp_path / "c.flac", wav], check=True)
    assert samples_digest(tmp_path / "c.flac") == samples_digest(wav)


def test_other_texts_in_the_header_change_nothing(wav, tmp_path):
    with soundfile.SoundFile(tmp_path / "d.wav", "w", RATE, 2, "PCM_24") as file:
        file.title = "Another title"
        file.write(SOUND)
    assert (tmp_path / "d.wav").read_bytes() != wav.read_bytes()
    assert samples_digest(tmp_path / "d.wav") == samples_digest(wav)


def test_one_changed_sample_is_another_sound(wav, tmp_path):
    changed = SOUND.copy()
    changed[77_777, 1] += 1 << 8
    assert samples_digest(written(tmp_path / "e.wav", changed)) != samples_digest(wav)


@pytest.mark.parametrize(
    "change",
    [
        lambda sound: (sound[:, ::-1], RATE),
        lambda sound: (sound[:, :1], RATE),
        lambda sound: (sound[:-1], RATE),
        lambda sound: (sound, 44_100),
    ],
    ids=["sides exchanged", "one channel", "one frame less", "another rate"],
)
def test_what_is_heard_otherwise_has_another_digest(wav, tmp_path, change):
    sound, rate = change(SOUND)
    assert samples_digest(written(tmp_path / "f.wav", np.ascontiguousarray(sound), rate=rate)) != samples_digest(wav)


def test_progress_goes_up_to_one(wav):
    told: list[float] = []
    samples_digest(wav, progress=told.append)
    assert told == sorted(told)
    assert told[-1] == 1.0


def test_what_cannot_be_read_is_refused_in_a_sentence(tmp_path):
    (tmp_path / "letter.wav").write_bytes(b"Dear library")
    with pytest.raises(audio_qc.Unreadable):
        samples_digest(tmp_path / "letter.wav")
