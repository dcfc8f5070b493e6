"""Noise floor: the level in the pauses of signals with known pauses."""

import numpy as np
import pytest

from audio_qc.measurement import NoiseFloor
from audio_qc.meters.noise import NoiseFloorMeter
from tests.audio_qc.helpers import metered
from tests.signals import RATE_HZ, noise, silence, steps, stereo, tone


def floor(samples: np.ndarray, rate_hz: int = RATE_HZ) -> NoiseFloor:
    channels = 1 if samples.ndim == 1 else samples.shape[1]
    result: NoiseFloor = metered(NoiseFloorMeter(rate_hz, channels), samples)
    return result


def talk(rate_hz: int = RATE_HZ) -> np.ndarray:
    """Return half a second of tone and half a second of pause, ten times."""
    return steps([(0.5, -20.0), (0.5, None)] * 10, rate_hz=rate_hz)


@pytest.mark.parametrize("level", [-50.0, -70.0, -90.0])
@pytest.mark.parametrize("rate_hz", [8_000, 44_100, 48_000])
def test_the_noise_between_bursts_of_tone_is_read(level: float, rate_hz: int) -> None:
    signal = talk(rate_hz) + noise(10, level, rate_hz)
    assert floor(signal, rate_hz).highest_dbfs == pytest.approx(level, abs=0.5)


def test_digital_silence_is_left_out() -> None:
    signal = np.concatenate((silence(3), talk() + noise(10, -60.0), silence(2)))
    assert floor(signal).highest_dbfs == pytest.approx(-60.0, abs=0.5)


def test_an_offset_is_not_taken_for_noise() -> None:
    assert floor(talk() + noise(10, -60.0) + 0.05).highest_dbfs == pytest.approx(-60.0, abs=0.5)


def test_the_noisiest_channel_stands_for_the_recording() -> None:
    result = floor(stereo(talk() + noise(10, -70.0), talk() + noise(10, -50.0, seed=2)))
    assert result.channels_dbfs == pytest.approx((-70.0, -50.0), abs=0.5)
    assert result.highest_dbfs == result.channels_dbfs[1]


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
    assert result.highest_dbfs is None
    assert because in result.reason
