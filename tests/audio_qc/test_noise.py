"""Noise floor, speech to noise and long silences of signals with known pauses."""

import numpy as np
import pytest

from audio_qc.facts.faults import LongSilence
from audio_qc.facts.sound import Noise, Speech
from audio_qc.meters.noise import a_weighting
from audio_qc.meters.together import Meters
from tests.signals import RATE_HZ, noise, silence, steps, stereo, tone


def results(samples: np.ndarray, rate_hz: int = RATE_HZ) -> dict[str, object]:
    planar = np.ascontiguousarray(np.atleast_2d(samples.T))
    meters = Meters(rate_hz, len(planar), "PCM_24")
    for start in range(0, planar.shape[1], 32_768):
        meters.add(np.ascontiguousarray(planar[:, start : start + 32_768]))
    return meters.results()


def floor(samples: np.ndarray, rate_hz: int = RATE_HZ) -> Noise:
    found = results(samples, rate_hz)["noise"]
    assert isinstance(found, Noise)
    return found


def talk(rate_hz: int = RATE_HZ, hz: float = 1000.0) -> np.ndarray:
    """Return half a second of tone and half a second of pause, ten times."""
    return steps([(0.5, -20.0), (0.5, None)] * 10, hz, rate_hz=rate_hz)


@pytest.mark.parametrize("level", [-50.0, -70.0, -90.0])
@pytest.mark.parametrize("rate_hz", [8_000, 44_100, 48_000, 192_000])
def test_the_noise_between_bursts_of_tone_is_read(level: float, rate_hz: int) -> None:
    signal = talk(rate_hz) + noise(10, level, rate_hz)
    assert floor(signal, rate_hz).noise_floor_dbfs == pytest.approx(level, abs=0.3)


def test_digital_silence_is_left_out() -> None:
    signal = np.concatenate((silence(3), talk() + noise(10, -60.0), silence(2)))
    assert floor(signal).noise_floor_dbfs == pytest.approx(-60.0, abs=0.3)


def test_an_offset_is_not_taken_for_noise() -> None:
    result = floor(talk() + noise(10, -60.0) + 0.05)
    assert result.noise_floor_dbfs == pytest.approx(-60.0, abs=0.3)


def test_the_noisiest_channel_stands_for_the_recording() -> None:
    result = floor(stereo(talk() + noise(10, -70.0), talk() + noise(10, -50.0, seed=2)))
    assert [one.floor_dbfs for one in result.channels] == pytest.approx([-70.0, -50.0], abs=0.3)
    assert result.noise_floor_dbfs == result.channels[1].floor_dbfs


@pytest.mark.parametrize(
    ("samples", "because"),
    [
        (tone(10, -20.0), "hardly changes"),
        (noise(10, -40.0), "hardly changes"),
        (talk()[: RATE_HZ // 2], "two seconds"),
        (silence(10), "digital silence"),
        (np.concatenate((talk() + noise(10, -60.0), silence(30))), "digital silence"),
    ],
)
def test_what_has_no_natural_pauses_is_not_measured_and_says_why(samples: np.ndarray, because: str) -> None:
    result = floor(samples)
    assert result.noise_floor_dbfs is None
    assert because in result.reason


# Nominal frequency, exact frequency 1000 * 10^(n/10), weight in dB: the rounded table of IEC 61672-1, of which the last
# column is the formula of its Annex E to four places.
A_WEIGHTS = [
    (31.5, 31.623, -39.4400), (63, 63.096, -26.1943), (125, 125.89, -16.0984), (250, 251.19, -8.6303),
    (500, 501.19, -3.2327), (1000, 1000.0, 0.0), (2000, 1995.3, 1.1999), (4000, 3981.1, 0.9699),
    (8000, 7943.3, -1.1107), (16000, 15849.0, -6.6026),
]  # fmt: skip


@pytest.mark.parametrize(("nominal_hz", "exact_hz", "weight_db"), A_WEIGHTS)
def test_a_weights_are_those_of_iec_61672(nominal_hz: float, exact_hz: float, weight_db: float) -> None:
    assert 10 * np.log10(a_weighting(np.array([exact_hz]))[0]) == pytest.approx(weight_db, abs=0.001)


@pytest.mark.parametrize(("hz", "weight_db"), [(125.89, -16.1), (1000.0, 0.0), (3981.1, 1.0), (7943.3, -1.1)])
def test_a_tone_in_the_pauses_is_weighted(hz: float, weight_db: float) -> None:
    signal = talk(hz=300.0) + tone(10, -57.0, hz=hz)
    assert floor(signal).noise_floor_dba == pytest.approx(-60.0 + weight_db, abs=0.15)


def test_speech_to_noise_is_the_active_level_less_the_noise_floor() -> None:
    """The bursts' RMS is -23.01 dBov; their active level is that of test_speech's half-duty tone, 1.1 dB lower."""
    signal = steps([(1.0, -20.0), (1.0, None)] * 6) + noise(12, -60.0)
    speech = results(signal)["speech"]
    assert isinstance(speech, Speech)
    assert speech.speech_to_noise_db == pytest.approx(-24.08 + 60.0, abs=0.3)


def test_the_voice_nearest_to_its_noise_stands_for_the_recording_and_a_dead_channel_does_not() -> None:
    voice = steps([(1.0, -20.0), (1.0, None)] * 6)
    clear, noisy, dead = noise(12, -70.0), noise(12, -50.0, seed=2), noise(12, -50.0, seed=3)
    speech = results(np.stack((voice + clear, 0.5 * voice + noisy, 1e-3 * dead), axis=1))["speech"]
    assert isinstance(speech, Speech)
    assert speech.speech_to_noise_db == pytest.approx(-30.1 + 50.0, abs=0.4)
    assert speech.active_speech_level_dbov == speech.channels[0].level_dbov


def test_a_voice_that_dies_away_into_its_pause_is_not_background() -> None:
    """Pauses are so rare that the quietest tenth is mostly the voice dying away, 100 dB a second."""
    t = np.arange(4 * RATE_HZ) / RATE_HZ
    word = np.where(t < 3.5, 1.0, 10 ** (-(t - 3.5) * 5.0)) * (t < 3.75)
    signal = np.tile(word, 4) * tone(16, -20.0) + noise(16, -80.0)
    assert floor(signal).noise_floor_dbfs == pytest.approx(-80.0, abs=0.5)


def test_with_hardly_any_pause_the_distance_is_doubtful_and_says_why() -> None:
    signal = np.concatenate((tone(3.0, -20.0), silence(0.4), tone(0.3, -20.0))) + noise(3.7, -60.0)
    speech = results(signal)["speech"]
    assert isinstance(speech, Speech)
    assert speech.speech_to_noise_db is not None
    assert "0.5 s" in speech.speech_to_noise_reason


def pauses_of(seconds: float) -> LongSilence:
    signal = np.concatenate((talk(), silence(seconds), talk()))
    found = results(signal + noise(20 + seconds, -60.0))["long_silence"]
    assert isinstance(found, LongSilence)
    return found


def test_a_recorder_left_running_is_found_where_it_was() -> None:
    found = pauses_of(45.0)
    (span,) = found.spans
    assert (span.start_s, span.end_s) == pytest.approx((9.5, 55.0), abs=0.06)
    assert found.longest_s == pytest.approx(45.5, abs=0.1)


def test_a_pause_for_thought_is_no_long_silence() -> None:
    assert pauses_of(20.0).count == 0


def test_a_chair_that_creaks_does_not_end_a_long_silence() -> None:
    signal = np.concatenate((talk(), silence(40), talk())) + noise(60, -60.0)
    signal[30 * RATE_HZ : 30 * RATE_HZ + 4800] += tone(0.1, -30.0)
    found = results(signal)["long_silence"]
    assert isinstance(found, LongSilence)
    assert found.count == 1


def test_the_histogram_of_levels_adds_up_to_the_whole_time() -> None:
    signal = np.concatenate((silence(2), talk() + noise(10, -60.0)))
    found = results(signal)["level_histogram"]
    assert sum(found.share_percent) + found.silent_percent == pytest.approx(100.0, abs=0.1)
    assert found.silent_percent == pytest.approx(100 * 2 / 12, abs=0.6)
    assert found.share_percent[-24 - found.lowest_dbfs] == pytest.approx(100 * 5 / 12, abs=1.0)


def test_the_spectrum_shows_the_tone_above_and_the_noise_in_the_pauses() -> None:
    found = results(talk() + noise(10, -60.0))["spectrum"]
    at = int(np.argmin(np.abs(np.array(found.bands_hz) - 1000.0)))
    # Windows at the edges of the bursts are half empty, which costs a decibel or two.
    assert found.sound_dbfs[at] == pytest.approx(-24.5, abs=1.5)
    # White noise has the same power in every hertz: a sixth of an octave round 1 kHz holds 116 of 24 000 Hz.
    width_hz = found.bands_hz[at] * (2 ** (1 / 12) - 2 ** (-1 / 12))
    assert found.pauses_dbfs[at] == pytest.approx(-60.0 + 10 * np.log10(width_hz / 24_000), abs=1.0)
