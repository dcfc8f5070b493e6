"""Active speech level and activity factor to ITU-T P.56, method B."""

import numpy as np
import pytest

from audio_qc import measure
from audio_qc.facts.sound import ChannelSpeech
from audio_qc.meters.speech import SpeechMeter
from tests.audio_qc.helpers import REFERENCE, metered_by_units, needs_reference, readings
from tests.signals import RATE_HZ, amplitude, noise, silence, tone

SQRT2_DB = 3.0103  # a sine's peak above its RMS


def speech(samples: np.ndarray, rate_hz: int = RATE_HZ) -> ChannelSpeech:
    (result,) = metered_by_units(SpeechMeter(rate_hz, 1), samples, rate_hz)
    assert isinstance(result, ChannelSpeech)
    return result


def gated(on_s: float, off_s: float, rate_hz: int = RATE_HZ) -> np.ndarray:
    """Return twelve seconds of a 1 kHz tone of -26 dBov RMS, switched on and off in turn."""
    t = np.arange(12 * rate_hz) / rate_hz
    return tone(12, -26.0 + SQRT2_DB, rate_hz=rate_hz) * (t % (on_s + off_s) < on_s)


# Exact readings of the algorithm that the ITU's software tools describe, computed independently at 48 kHz.
TONES = [
    (tone(12, -3.01 + SQRT2_DB), -3.0019, 99.81),
    (tone(12, -26.0 + SQRT2_DB), -25.9916, 99.81),
    (tone(12, -40.0 + SQRT2_DB), -39.9915, 99.80),
    (gated(1, 1), -27.0641, 63.88),
    (gated(3, 3), -26.3793, 54.56),
    (gated(0.1, 0.1), -29.0035, 99.84),
]


@pytest.mark.parametrize(("samples", "level", "activity"), TONES)
def test_tones_read_as_the_algorithm_prescribes(samples: np.ndarray, level: float, activity: float) -> None:
    result = speech(samples)
    assert result.level_dbov == pytest.approx(level, abs=0.005)
    assert result.activity_percent == pytest.approx(activity, abs=0.05)


@pytest.mark.parametrize("rate_hz", [8_000, 11_025, 16_000, 44_100, 96_000, 192_000])
def test_the_sample_rate_does_not_matter(rate_hz: int) -> None:
    result = speech(gated(1, 1, rate_hz), rate_hz)
    assert result.level_dbov == pytest.approx(-27.0641, abs=0.015)
    assert result.activity_percent == pytest.approx(63.88, abs=0.2)


def test_levels_too_low_for_sixteen_bits_are_read() -> None:
    faint = speech(gated(1, 1) * amplitude(-60.0))
    assert faint.level_dbov == pytest.approx(-87.0641, abs=0.01)


def test_silence_has_no_active_level_and_says_so() -> None:
    result = speech(silence(5))
    assert (result.level_dbov, result.activity_percent) == (None, None)
    assert not result.is_reliable
    assert "loud as speech" in result.reason


def test_noise_without_pauses_is_measured_and_called_unreliable() -> None:
    """As the recommendation warns: the margin is for speech with little background."""
    result = speech(noise(12, -25.992))
    assert result.level_dbov == pytest.approx(-25.983, abs=0.02)
    assert not result.is_reliable
    assert "background" in result.reason


def test_a_large_offset_makes_the_level_unreliable() -> None:
    """An offset over 2 % of full scale was seen to turn the activity of real speech into nearly all of the time."""
    result = speech(gated(1, 1) * amplitude(12.0) + 0.03)
    assert not result.is_reliable
    assert "offset" in result.reason


SPOKEN = [name for name in (readings() if REFERENCE.is_dir() else {}) if "hum50_noise3" not in name]


@needs_reference
@pytest.mark.parametrize("name", SPOKEN)
def test_real_speech_reads_as_with_the_itus_own_tool(name: str) -> None:
    """reference.tsv, columns p56_: the ITU's own software tool, whose search stops near the crossing."""
    row, measured = readings()[name], measure(REFERENCE / name).speech
    levels, activities = row["p56_active_dBov"].split("|"), row["p56_activity_pct"].split("|")
    for channel, level, activity in zip(measured.channels, levels, activities, strict=True):
        assert channel.level_dbov == pytest.approx(float(level), abs=0.1)
        assert channel.activity_percent == pytest.approx(float(activity), abs=0.5)


@needs_reference
def test_noise_without_speech_agrees_in_level_with_the_itus_own_tool() -> None:
    """Its search stops 0.04 dB from the crossing here, which the steep activity of noise makes 0.9 %."""
    row, measured = readings()["faulty/hum50_noise3_16k.wav"], measure(REFERENCE / "faulty/hum50_noise3_16k.wav").speech
    assert measured.active_speech_level_dbov == pytest.approx(float(row["p56_active_dBov"]), abs=0.1)
    assert measured.activity_factor_percent == pytest.approx(float(row["p56_activity_pct"]), abs=1.0)
