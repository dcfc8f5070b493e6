"""Bursts below the voice are found where they are and as loud as they are; voices, hum and noise are none."""

import numpy as np
import pytest

from audio_qc.facts.faults import Rumble
from audio_qc.measure import report
from audio_qc.meters.lowband import LowBandMeter
from tests.audio_qc.helpers import REFERENCE, metered, needs_reference
from tests.signals import noise, silence, stereo, tone

RATES_HZ = [8_000, 44_100, 96_000]


def rumble(samples: np.ndarray, rate_hz: int = 8_000) -> Rumble:
    channels = 1 if samples.ndim == 1 else samples.shape[1]
    facts: Rumble = metered(LowBandMeter(rate_hz, channels), samples, 10_007)[1]
    return facts


def voice(seconds: int, rate_hz: int = 8_000, hz: float = 85.0) -> np.ndarray:
    """Return a deep voice, strongest where it is lowest, that speaks two seconds in three and starts within 60 ms."""
    parts = sum(tone(seconds, -24.5 - 3 * n, n * hz, rate_hz) for n in range(1, 9))
    second = np.arange(len(parts)) / rate_hz % 3.0
    ramp = np.sin(np.pi / 2 * np.clip(np.minimum(second, 2.0 - second) / 0.06, 0.0, 1.0)) ** 2
    return parts * ramp + noise(seconds, -60.0, rate_hz)


def put(samples: np.ndarray, burst: np.ndarray, at_s: float, rate_hz: int = 8_000) -> np.ndarray:
    """Return the samples with a burst added from `at_s` on."""
    samples, start = samples.copy(), round(at_s * rate_hz)
    samples[start : start + len(burst)] += burst
    return samples


@pytest.mark.parametrize("rate_hz", RATES_HZ)
def test_a_burst_is_found_where_it_is_and_as_loud_as_it_is(rate_hz: int) -> None:
    burst = tone(1.5, -20.0, 40.0, rate_hz)
    facts = rumble(put(voice(30, rate_hz), burst, 11.2, rate_hz), rate_hz)
    (found,) = facts.bursts
    assert found.level_dbfs == pytest.approx(-23.01, abs=0.3)
    assert found.span.start_s == pytest.approx(11.2, abs=0.2)
    assert found.span.end_s == pytest.approx(12.7, abs=0.2)
    assert found.span.start_frame == round(found.span.start_s * rate_hz)
    assert facts.voice_dbfs is not None
    assert found.over_voice_db == pytest.approx(found.level_dbfs - facts.voice_dbfs)


def test_share_is_the_part_of_the_energy_that_lies_low() -> None:
    samples = tone(30, -20.0, 200.0, 8_000) + put(silence(30, 8_000), tone(3, -20.0, 30.0, 8_000), 10.0)
    facts = rumble(samples)
    assert facts.share_percent == pytest.approx(100 * 3 / 33, abs=1.0)
    (found,) = facts.bursts
    assert found.share_percent == pytest.approx(50.0, abs=4.0)


NO_RUMBLE = {
    "a deep voice": voice(30),
    "a deep voice and steady hum": voice(30) + tone(30, -24.0, 50.0, 8_000) + tone(30, -24.0, 60.0, 8_000),
    "noise": noise(30, -30.0, 8_000),
    "a test tone": tone(30, -20.0, 1000.0, 8_000),
    "digital silence": silence(30, 8_000),
    "speech between digital silences": voice(30) * (np.arange(240_000) % 40_000 < 20_000),
    "an offset": voice(30) + 0.1,
}


@pytest.mark.parametrize("what", NO_RUMBLE)
def test_what_is_no_rumble_is_not_called_so(what: str) -> None:
    assert rumble(NO_RUMBLE[what]).bursts == ()


def test_close_bursts_are_one_and_distant_ones_several() -> None:
    samples, burst = voice(30), tone(0.5, -15.0, 30.0, 8_000)
    for at_s in (5.0, 6.2, 15.0):
        samples = put(samples, burst, at_s)
    assert len(rumble(samples).bursts) == 2


def test_the_channel_is_named() -> None:
    samples = stereo(voice(20), put(voice(20), tone(1, -15.0, 30.0, 8_000), 8.0))
    assert [burst.span.channel for burst in rumble(samples).bursts] == [1]


def test_very_many_bursts_are_listed_up_to_a_bound_the_strongest_first_kept() -> None:
    samples = noise(700, -30.0, 4_000)
    for n in range(250):
        samples = put(samples, tone(0.5, -15.0 + n / 50, 40.0, 4_000), 1.0 + n * 2.7, 4_000)
    facts = rumble(samples, 4_000)
    assert len(facts.bursts) == 200
    assert facts.bursts[0].span.start_s > 100.0


def test_too_short_recordings_are_not_measured() -> None:
    facts = rumble(noise(1, -30.0, 8_000))
    assert (facts.share_percent, facts.voice_dbfs, facts.bursts) == (None, None, ())
    assert facts.reason


@needs_reference
def test_the_thump_in_a_real_recording_is_told_as_a_thump() -> None:
    """The loudest sample of the file behind SciPy's Butterworth band-pass of 10 to 80 Hz lies at 9.38 s."""
    findings = report(REFERENCE / "speech" / "german_pauses_44k.wav").findings
    (finding,) = (one for one in findings if one.measure == "rumble")
    assert finding.code == "rumble-thumps"
    assert any(span.start_s < 9.38 < span.end_s for span in finding.spans)
