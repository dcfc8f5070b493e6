"""The demo's sound is what it says it is."""

import io

import numpy as np
import pytest
import soundfile

from intake.local import recordings as sound
from intake.local.recordings import RATE

NOTHING = np.zeros(10 * RATE)


@pytest.fixture(scope="module")
def talk() -> np.ndarray:
    return sound.recorded("sound-check", seed=1)


def level_dbfs(samples: np.ndarray) -> float:
    return float(20 * np.log10(np.sqrt(np.mean(samples**2))))


@pytest.mark.parametrize("name", sorted(path.stem for path in sound.SPEECH.glob("*.ogg")))
def test_what_was_said_is_mono_at_the_right_rate_with_headroom(name: str) -> None:
    info = soundfile.info(sound.SPEECH / f"{name}.ogg")
    assert (info.samplerate, info.channels) == (RATE, 1)
    assert 5 < info.duration < 90
    assert 20 * np.log10(np.abs(sound.speech(name)).max()) == pytest.approx(-8.0, abs=1.0)  # a coded peak is not exact


def test_the_same_seed_gives_the_same_sound(talk: np.ndarray) -> None:
    assert np.array_equal(talk, sound.recorded("sound-check", seed=1))
    assert not np.array_equal(talk, sound.recorded("sound-check", seed=2))


def test_a_room_has_the_level_that_was_asked_for() -> None:
    assert level_dbfs(sound.room(10 * RATE, -66.0, seed=1)) == pytest.approx(-66.0, abs=0.01)


def test_gain_over_full_scale_is_cut_flat() -> None:
    loud = sound.recorded("sound-check", seed=1, gain_db=20.0)
    assert np.abs(loud).max() == 1.0
    assert np.sum(np.abs(loud) == 1.0) > 50


def test_hum_stands_at_fifty_hertz() -> None:
    spectrum = np.abs(np.fft.rfft(sound.with_hum(NOTHING, -40.0))) / len(NOTHING) * 2
    assert 20 * np.log10(spectrum[50 * 10]) == pytest.approx(-40.0, abs=0.1)


def test_wind_lies_below_eighty_hertz_and_comes_in_gusts() -> None:
    wind = sound.with_wind(NOTHING, -14.0, seed=1)
    spectrum = np.abs(np.fft.rfft(wind)) ** 2
    assert spectrum[: 120 * 10].sum() / spectrum.sum() > 0.99
    seconds = np.sqrt(np.mean(wind.reshape(10, RATE) ** 2, axis=1))
    assert seconds.max() > 100 * max(seconds.min(), 1e-9)
    assert 20 * np.log10(np.abs(wind).max()) == pytest.approx(-14.0, abs=0.1)


def test_handling_is_heard_where_it_was_put_and_not_before() -> None:
    handled = sound.with_handling(NOTHING, (2.0, 5.0), seed=1)
    assert not handled[: 2 * RATE].any()
    assert level_dbfs(handled[2 * RATE : int(2.1 * RATE)]) > -40
    assert not handled[4 * RATE : 5 * RATE].any()


def test_a_dropout_is_exact_silence(talk: np.ndarray) -> None:
    torn = sound.with_dropouts(talk, ((2.0, 3.5),))
    assert not torn[2 * RATE : int(3.5 * RATE)].any()
    assert np.array_equal(torn[: 2 * RATE], talk[: 2 * RATE])


def test_channels_are_dead_or_upside_down(talk: np.ndarray) -> None:
    dead = sound.one_dead_channel(talk)
    assert np.array_equal(dead[:, 0], talk)
    assert level_dbfs(dead[:, 1]) == pytest.approx(-96.0, abs=0.01)
    assert np.corrcoef(sound.one_channel_inverted(talk).T)[0, 1] < -0.9


def test_the_file_is_what_a_recorder_writes(talk: np.ndarray) -> None:
    content = sound.wav(talk, marks=(2.0, 7.5))
    info = soundfile.info(io.BytesIO(content))
    assert (info.samplerate, info.channels, info.subtype, info.frames) == (48_000, 1, "PCM_24", len(talk))
    back, _ = soundfile.read(io.BytesIO(content))
    assert np.abs(back - talk).max() <= 1 / 2**23  # one step of 24 bits
    assert int.from_bytes(content[4:8], "little") == len(content) - 8


def test_other_settings_of_a_recorder_and_of_a_telephone(talk: np.ndarray) -> None:
    low = soundfile.info(io.BytesIO(sound.wav(talk, rate=44_100, bits=16)))
    assert (low.samplerate, low.subtype) == (44_100, "PCM_16")
    assert low.duration == pytest.approx(len(talk) / RATE, abs=0.001)
    coded = soundfile.info(io.BytesIO(sound.mp3(talk)))
    assert (coded.samplerate, coded.subtype) == (44_100, "MPEG_LAYER_III")
