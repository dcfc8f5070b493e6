"""Hum of known level and frequency reads what arithmetic predicts; what is not hum is not called so."""

import numpy as np
import pytest

from audio_qc.facts.faults import Hum
from audio_qc.measure import measure
from audio_qc.meters.lowband import LowBandMeter
from tests.audio_qc.helpers import REFERENCE, metered, needs_reference
from tests.signals import noise, silence, stereo, tone

RATES_HZ = [8_000, 16_000, 44_100, 48_000, 96_000]


def hum(samples: np.ndarray, rate_hz: int = 8_000) -> Hum:
    channels = 1 if samples.ndim == 1 else samples.shape[1]
    facts: Hum = metered(LowBandMeter(rate_hz, channels), samples, 10_007)[0]
    return facts


@pytest.mark.parametrize("rate_hz", RATES_HZ)
@pytest.mark.parametrize(("hz", "mains"), [(50.0, 50), (100.3, 50), (119.7, 60), (60.2, 60)])
def test_a_line_in_noise_has_the_prominence_that_arithmetic_predicts(rate_hz: int, hz: float, mains: int) -> None:
    line_dbfs, noise_dbfs, seconds = -50.0, -40.0, 40
    facts = hum(tone(seconds, line_dbfs + 3.01, hz, rate_hz) + noise(seconds, noise_dbfs, rate_hz), rate_hz)
    low_rate = rate_hz / round(rate_hz / 2_000)
    within_line = noise_dbfs + 10 * np.log10(3 * (low_rate / 2_048) / (rate_hz / 2))
    expected = 10 * np.log10(1 + 10 ** ((line_dbfs - within_line) / 10))
    assert facts.prominence_db == pytest.approx(expected, abs=1.2)
    assert facts.mains_hz == mains
    assert line_dbfs - 1.0 < (facts.level_dbfs or 0.0) < line_dbfs + 0.2  # a low quantile: noise takes a little away
    (line,) = facts.lines
    assert line.frequency_hz == pytest.approx(hz, abs=0.1)


def test_weighted_level_is_lower_by_the_weight_of_the_standard() -> None:
    """IEC 61672-1: -19.1 dB at 100 Hz."""
    facts = hum(tone(20, -40.0, 100.0, 8_000) + noise(20, -60.0, 8_000))
    assert facts.a_weighted_level_dbfs == pytest.approx((facts.level_dbfs or 0.0) - 19.1, abs=0.1)


def test_harmonics_add_up_and_give_the_frequency() -> None:
    f0 = 50.0 * 1.003
    lines = sum(tone(30, -50.0, n * f0, 8_000) for n in (1, 2, 4, 6))
    facts = hum(lines + noise(30, -50.0, 8_000))
    assert [round(line.frequency_hz / f0) for line in facts.lines] == [1, 2, 4, 6]
    assert facts.measured_hz == pytest.approx(f0, abs=0.01)
    assert facts.level_dbfs == pytest.approx(-50.0 - 3.01 + 6.02, abs=0.3)


def test_hum_under_speech_like_bursts_is_measured_in_the_pauses() -> None:
    rng = np.random.default_rng(5)
    t = np.arange(60 * 8_000) / 8_000
    pitch = np.cumsum(np.repeat(rng.uniform(90.0, 130.0, 300), 1_600)) / 8_000
    voice = 0.1 * sum(np.sin(2 * np.pi * n * pitch) / n for n in range(1, 12)) * (t % 6.0 < 4.0)
    background = noise(60, -65.0, 8_000)
    clean, humming = hum(voice + background), hum(voice + background + tone(60, -55.0, 100.0, 8_000))
    assert clean.lines == ()
    assert humming.measured_hz == pytest.approx(50.0, abs=0.05)
    assert humming.level_dbfs == pytest.approx(-58.0, abs=1.0)


def wandering_voice(low_hz: float, high_hz: float, seconds: int = 30) -> np.ndarray:
    """Return a buzz whose pitch wanders without any pause."""
    rng = np.random.default_rng(3)
    corners = rng.uniform(low_hz, high_hz, seconds * 2)
    pitch = np.interp(np.arange(seconds * 8_000) / 8_000, np.arange(seconds * 2) / 2, corners)
    phase = 2 * np.pi * np.cumsum(pitch) / 8_000
    return np.asarray(0.1 * sum(np.sin(n * phase) / n for n in range(1, 15)))


NOT_HUM = {
    "a man's voice about 100 and 120 Hz": wandering_voice(95.0, 125.0),
    "a note of 110 Hz with overtones": sum(tone(20, -30.0, n * 110.0, 8_000) for n in range(1, 6)),
    "a low G, 98 Hz": tone(20, -30.0, 97.999, 8_000),
    "a low B, 61.7 Hz": tone(20, -30.0, 61.735, 8_000),
    "a test tone of 1 kHz": tone(20, -20.0, 1000.0, 8_000),
    "a test tone of 300 Hz": tone(20, -20.0, 300.0, 8_000),
    "a test tone of 400 Hz": tone(20, -20.0, 400.0, 8_000),
    "noise alone": silence(20, 8_000),
}


@pytest.mark.parametrize("what", NOT_HUM)
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_what_is_no_hum_is_not_called_hum(what: str, seed: int) -> None:
    facts = hum(NOT_HUM[what] + noise(len(NOT_HUM[what]) / 8_000, -60.0, 8_000, seed))
    assert facts.lines == ()
    assert facts.prominence_db is not None
    assert facts.prominence_db < 15.0


def test_the_worst_channel_is_named() -> None:
    quiet = noise(20, -60.0, 8_000)
    facts = hum(stereo(quiet + tone(20, -60.0, 50.0, 8_000), quiet + tone(20, -50.0, 50.0, 8_000)))
    assert facts.channel == 1


def test_too_short_or_silent_recordings_are_not_measured() -> None:
    for samples in (tone(4, -30.0, 50.0, 8_000), silence(60, 8_000)):
        facts = hum(samples)
        assert facts.prominence_db is None
        assert "seconds of sound" in facts.reason


def test_digital_silence_between_the_words_does_not_hide_hum() -> None:
    samples = tone(60, -45.0, 50.0, 8_000) + noise(60, -55.0, 8_000)
    samples[np.arange(len(samples)) % 64_000 < 32_000] = 0.0
    assert hum(samples).level_dbfs == pytest.approx(-48.0, abs=0.5)


def test_hum_that_is_there_all_along_is_found_in_a_long_recording() -> None:
    """Twenty minutes in which every fourth second is a pause: many more windows than are kept."""
    loudness = np.repeat(np.tile([1.0, 1.0, 1.0, 0.01], 300), 4_000)
    samples = loudness * noise(1200, -20.0, 4_000)
    facts = hum(samples + tone(1200, -40.0, 120.0, 4_000), 4_000)
    assert facts.measured_hz == pytest.approx(60.0, abs=0.02)


@needs_reference
@pytest.mark.parametrize(
    ("name", "mains", "hz", "least_db"),
    [
        ("hum60_recording1_16k.wav", 60, [121.2], 25.0),
        ("hum50_noise3_16k.wav", 50, [50.06, 100.11, 150.18], 26.0),
        ("noisy_arabic_bc_16k.wav", 50, [49.99, 149.98], 15.0),
    ],
)
def test_real_hum_is_found(name: str, mains: int, hz: list[float], least_db: float) -> None:
    """manifest.tsv: which lines, and 25 and 26 to 40 dB; the places are the highest bins of one long transform."""
    facts = measure(REFERENCE / "faulty" / name).hum
    assert facts.mains_hz == mains
    assert facts.prominence_db is not None
    assert facts.prominence_db >= least_db
    for expected in hz:
        assert min(abs(line.frequency_hz - expected) for line in facts.lines) < 0.6


@needs_reference
def test_the_faint_hum_of_a_reading_is_measured() -> None:
    """manifest.tsv: faint 60 Hz."""
    facts = measure(REFERENCE / "speech" / "reader_austen_16k.wav").hum
    assert (facts.mains_hz, len(facts.lines)) == (60, 1)
