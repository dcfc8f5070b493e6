"""Flat tops: clipping below full scale with known places, and loud sound that is not clipped."""

import numpy as np
import pytest
from scipy.signal import lfilter

from audio_qc.facts.faults import FlatTops
from audio_qc.meters.samples import SampleMeter
from tests.audio_qc.helpers import metered
from tests.signals import RATE_HZ, amplitude, faded, noise, stereo, tone


def flat_tops(samples: np.ndarray, rate_hz: int = RATE_HZ, block_frames: int = 32_768) -> FlatTops:
    channels = 1 if samples.ndim == 1 else samples.shape[1]
    _, facts, _, _ = metered(SampleMeter(rate_hz, channels), samples, block_frames)
    assert isinstance(facts, FlatTops)
    return facts


def voice(seconds: float, rate_hz: int = RATE_HZ, seed: int = 1) -> np.ndarray:
    """Return rounded pulses of a wandering pitch through one resonance, in syllables of unlike loudness; peak at 1."""
    chance = np.random.default_rng(seed)
    pulses = np.zeros(round(seconds * rate_hz))
    at = 0.0
    while at < len(pulses) - 1:
        pulses[int(at)] = chance.uniform(0.7, 1.0)
        at += rate_hz / 120.0 * chance.uniform(0.9, 1.1)
    pulses = np.convolve(pulses, np.hanning(rate_hz // 700), "same")
    radius, turn = 1.0 - 300.0 / rate_hz, 2 * np.pi * 500.0 / rate_hz
    sound = lfilter([1.0, -1.0], [1.0, -2 * radius * np.cos(turn), radius**2], pulses)
    syllables = np.interp(np.arange(len(sound)), np.arange(0, len(sound) + rate_hz, rate_hz // 5), chance.uniform(
        0.05, 1.0, len(np.arange(0, len(sound) + rate_hz, rate_hz // 5))
    ))  # fmt: skip
    sound *= syllables
    return np.asarray(sound / np.abs(sound).max())


def recorded(samples: np.ndarray, bits: int = 16) -> np.ndarray:
    steps = 2.0 ** (bits - 1)
    return np.rint(samples * steps + np.random.default_rng(9).uniform(-1, 1, samples.shape)) / steps


@pytest.mark.parametrize("rate_hz", [16_000, 22_050, 44_100, 48_000, 96_000])
@pytest.mark.parametrize("attenuation_db", [0.5, 3.0, 6.0, 12.0])
def test_clipping_made_quieter_is_found_at_its_level(rate_hz: int, attenuation_db: float) -> None:
    clipped = np.clip(2.0 * voice(10, rate_hz), -1.0, 1.0) * amplitude(-attenuation_db)
    (channel,) = flat_tops(recorded(clipped), rate_hz).channels
    assert channel.level_dbfs == pytest.approx(-attenuation_db, abs=0.1)
    assert channel.positive_tops > 10


def test_the_same_voice_unclipped_has_none() -> None:
    facts = flat_tops(recorded(0.9 * voice(10)))
    assert (facts.moments, facts.spans, facts.share_percent, facts.longest_s) == (0, (), 0.0, 0.0)
    assert facts.channels[0].level_dbfs is None


def test_flat_tops_are_located() -> None:
    loud = voice(10)
    clipped = np.concatenate((0.4 * loud, np.clip(2.0 * loud, -1.0, 1.0), 0.4 * loud)) / 2
    facts = flat_tops(recorded(clipped))
    assert facts.moments > 0
    for span in facts.spans:
        assert 10 * RATE_HZ <= span.start_frame < span.end_frame <= 20 * RATE_HZ
        assert np.abs(clipped[span.start_frame : span.end_frame]).max() == pytest.approx(0.5, rel=0.04)


def test_a_preamplifier_that_clips_one_side_is_found_there() -> None:
    sound = voice(10)
    (channel,) = flat_tops(recorded(0.5 * np.minimum(2.0 * sound, 1.0))).channels
    assert channel.positive_tops > 10
    assert channel.negative_tops == 0


def test_the_channel_that_is_clipped_is_named() -> None:
    clean, clipped = 0.4 * voice(10, seed=2), 0.5 * np.clip(2.0 * voice(10), -1.0, 1.0)
    left, right = flat_tops(recorded(stereo(clean, clipped))).channels
    assert left.level_dbfs is None
    assert right.level_dbfs == pytest.approx(-6.02, abs=0.1)


def test_clipping_at_full_scale_is_not_told_again() -> None:
    assert flat_tops(np.clip(2.0 * voice(10), -1.0, 1.0)).moments == 0


def faded_in(samples: np.ndarray) -> np.ndarray:
    return samples * np.minimum(1.0, np.arange(len(samples)) / (len(samples) / 3))


def swelling(samples: np.ndarray) -> np.ndarray:
    return samples * (0.6 + 0.4 * np.sin(2 * np.pi * 3.0 * np.arange(len(samples)) / RATE_HZ))


def claps() -> np.ndarray:
    """Return bursts of noise that die away, with rests between them."""
    decay = np.exp(-np.arange(RATE_HZ // 2) / (0.01 * RATE_HZ))
    bursts = [decay * noise(0.5, -20.0, seed=n) for n in range(40)]
    return np.concatenate(bursts)


def square(hz: float) -> np.ndarray:
    return np.sign(np.sin(2 * np.pi * hz * (np.arange(5 * RATE_HZ) + 0.5) / RATE_HZ))


NOT_CLIPPED = {
    "a steady tone": tone(5, -3.0, 440.0),
    "a tone that is faded in": faded_in(tone(5, -3.0, 440.0)),
    "a tone that swells": swelling(tone(10, -3.0, 330.0)),
    "a chord": 0.2 * sum(tone(10, 0.0, hz) for hz in (220.0, 277.2, 329.6, 440.0)),
    "beating tones": 0.4 * (tone(20, 0.0, 300.0) + tone(20, 0.0, 303.0)),
    "a low and a high tone": 0.4 * (tone(20, 0.0, 300.0) + tone(20, 0.0, 907.3)),
    "a square wave": 0.5 * square(100.0),
    "a square wave that is faded in": faded_in(0.5 * square(100.0)),
    "noise": noise(10, -15.0),
    "claps": claps(),
    "a voice and a louder beep": np.concatenate((faded(0.4 * voice(10)), faded(tone(1, -6.0, 1000.0)))),
    "a voice and a louder low hum": np.concatenate((faded(0.4 * voice(10)), faded(tone(1, -6.0, 100.0)))),
}


@pytest.mark.parametrize("what", sorted(NOT_CLIPPED))
def test_sound_that_is_loud_at_its_own_level_is_not_clipped(what: str) -> None:
    for bits in (8, 16, 24):
        assert flat_tops(recorded(np.asarray(NOT_CLIPPED[what]), bits)).moments == 0


def test_a_single_full_scale_sample_is_no_clip() -> None:
    sound = 0.5 * voice(10)
    sound[100_000] = 1.0
    assert flat_tops(sound).moments == 0
