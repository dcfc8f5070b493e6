"""The demo's sound is what it says it is."""

import io

import numpy as np
import pytest
import soundfile

from intake.local.voices import BAKER, OLD_FERRYMAN, RATE, Studio, wav, with_burst, with_hum


@pytest.fixture(scope="module")
def talk() -> np.ndarray:
    return Studio(1).conversation(OLD_FERRYMAN, seconds=12, peak_dbfs=-8.0)


def test_the_same_seed_gives_the_same_sound(talk: np.ndarray) -> None:
    assert np.array_equal(talk, Studio(1).conversation(OLD_FERRYMAN, seconds=12, peak_dbfs=-8.0))
    assert not np.array_equal(talk, Studio(2).conversation(OLD_FERRYMAN, seconds=12, peak_dbfs=-8.0))


def test_it_has_the_length_and_the_peak_that_were_asked_for(talk: np.ndarray) -> None:
    assert len(talk) == 12 * RATE
    assert 20 * np.log10(np.abs(talk).max()) == pytest.approx(-8.0, abs=0.1)  # the room's noise adds a little


def test_it_has_a_voice_of_the_pitch_that_was_asked_for() -> None:
    phrase = Studio(3).phrase(OLD_FERRYMAN, seconds=4.0)
    # The strongest repetition between 60 and 400 Hz, by autocorrelation (common practice, no source).
    spectrum = np.abs(np.fft.rfft(phrase, 2 * len(phrase))) ** 2
    repeats = np.fft.irfft(spectrum)[RATE // 400 : RATE // 60]
    pitch = RATE / (RATE // 400 + int(np.argmax(repeats)))
    assert pitch == pytest.approx(OLD_FERRYMAN.pitch, rel=0.2)


def test_speech_and_pauses_take_turns(talk: np.ndarray) -> None:
    frames = talk[: len(talk) // 4800 * 4800].reshape(-1, 4800)
    levels = 20 * np.log10(np.sqrt(np.mean(frames**2, axis=1)))
    assert (levels > -30).mean() > 0.4
    assert (levels < -45).mean() > 0.05


def test_laughter_over_full_scale_is_cut_flat(talk: np.ndarray) -> None:
    studio = Studio(4)
    loud = with_burst(talk, studio.laughter(BAKER, seconds=2.0), at_seconds=3.0, gain_db=6.0)
    assert np.abs(loud).max() == 1.0
    assert np.sum(np.abs(loud) == 1.0) > 50
    assert np.array_equal(loud[: 3 * RATE], talk[: 3 * RATE])


def test_hum_stands_at_fifty_hertz() -> None:
    hum = with_hum(np.zeros(10 * RATE), -40.0)
    spectrum = np.abs(np.fft.rfft(hum)) / len(hum) * 2
    assert 20 * np.log10(spectrum[50 * 10]) == pytest.approx(-40.0, abs=0.1)


def test_the_file_is_what_a_recorder_writes(talk: np.ndarray) -> None:
    content = wav(talk, marks=(2.0, 7.5))
    info = soundfile.info(io.BytesIO(content))
    assert (info.samplerate, info.channels, info.subtype, info.frames) == (48_000, 1, "PCM_24", len(talk))
    back, _ = soundfile.read(io.BytesIO(content))
    assert np.abs(back - talk).max() <= 1 / 2**23  # one step of 24 bits
    assert int.from_bytes(content[4:8], "little") == len(content) - 8
