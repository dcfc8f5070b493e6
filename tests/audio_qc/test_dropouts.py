"""Dropouts with known places, and still or sudden sound that is none."""

import numpy as np
import pytest

from audio_qc.facts.faults import DigitalSilence, Dropouts
from audio_qc.meters.samples import SampleMeter
from tests.audio_qc.helpers import metered
from tests.audio_qc.test_flat_tops import NOT_CLIPPED, claps, recorded, square, voice
from tests.signals import RATE_HZ, noise, silence, stereo, tone

START = 5 * RATE_HZ


def dropouts(
    samples: np.ndarray, rate_hz: int = RATE_HZ, block_frames: int = 32_768
) -> tuple[Dropouts, DigitalSilence]:
    channels = 1 if samples.ndim == 1 else samples.shape[1]
    _, _, facts, silent = metered(SampleMeter(rate_hz, channels), samples, block_frames)
    return facts, silent


def talk(rate_hz: int = RATE_HZ) -> np.ndarray:
    """Return ten seconds of a voice without pauses over a quiet room."""
    return recorded(0.4 * voice(10, rate_hz) + 0.1 * tone(10, 0.0, 150.0, rate_hz) + noise(10, -70.0, rate_hz))


def with_gap(sound: np.ndarray, ms: float, value: float | None = 0.0) -> np.ndarray:
    """Put zeros, another value, or (None) the sample before the gap in place of sound."""
    harmed = sound.copy()
    harmed[START : START + round(ms * RATE_HZ / 1000)] = harmed[START - 1] if value is None else value
    return harmed


@pytest.mark.parametrize("ms", [1, 3, 10, 50, 300, 3400])
def test_zeros_inside_sound_are_a_dropout(ms: int) -> None:
    facts, _ = dropouts(with_gap(talk(), ms))
    assert (facts.count, facts.silent_gaps, facts.held_gaps, facts.jumps) == (1, 1, 0, 0)
    (span,) = facts.spans
    assert (span.start_frame, span.end_frame, span.channel) == (START, START + ms * 48, 0)
    assert facts.longest_gap_s == pytest.approx(ms / 1000)


@pytest.mark.parametrize("ms", [1, 10, 300])
def test_a_held_sample_inside_sound_is_a_dropout(ms: int) -> None:
    facts, silent = dropouts(with_gap(talk(), ms, None))
    assert (facts.count, facts.silent_gaps, facts.held_gaps, facts.jumps) == (1, 0, 1, 0)
    assert facts.spans[0].end_frame == START + ms * 48
    assert silent.count == 0


def test_a_gap_that_is_faded_out_and_in_is_a_dropout() -> None:
    sound, fade = talk(), RATE_HZ // 50
    sound[START - fade : START] *= np.linspace(1.0, 0.0, fade)
    sound[START : START + 4800] = 0.0
    sound[START + 4800 : START + 4800 + fade] *= np.linspace(0.0, 1.0, fade)
    facts, silent = dropouts(recorded(sound) * (sound != 0.0))
    assert (facts.count, facts.silent_gaps, silent.count) == (1, 1, 1)


def test_lost_samples_leave_a_jump() -> None:
    sound = talk()
    lost = np.concatenate((sound[:START], sound[START + 1234 :]))
    jump = abs(lost[START] - lost[START - 1])
    assert jump > 0.02, "the ends must not meet by chance"
    facts, _ = dropouts(lost)
    assert (facts.count, facts.jumps, facts.longest_gap_s) == (1, 1, 0.0)
    assert abs(facts.spans[0].start_frame - START) <= 2


def test_a_single_wrong_sample_is_a_jump() -> None:
    sound = talk()
    sound[START] += 0.2
    assert dropouts(sound)[0].jumps == 1


def test_each_dropout_is_told_once_and_in_its_channel() -> None:
    sound = talk()
    facts, _ = dropouts(stereo(sound, with_gap(sound, 20)))
    assert [(span.start_frame, span.channel) for span in facts.spans] == [(START, 1)]


def test_silence_longer_than_any_dropout_is_only_digital_silence() -> None:
    facts, silent = dropouts(with_gap(talk(), 3600))
    assert (facts.count, silent.count) == (0, 1)


def test_the_start_and_the_end_of_a_recording_are_none() -> None:
    sound = np.concatenate((silence(0.5), talk(), silence(0.5)))
    assert dropouts(sound)[0].count == 0
    assert dropouts(talk()[1000:-1000])[0].count == 0


def gated(level: float) -> np.ndarray:
    """Return a voice that dies away into pauses, closed to exact zeros with a fade of 50 ms wherever it is quiet."""
    loudness = np.clip(np.sin(2 * np.pi * 0.5 * np.arange(10 * RATE_HZ) / RATE_HZ) + 0.5, 0.0, 1.0)
    sound = 0.5 * voice(10) * loudness
    open_ = np.convolve(np.abs(sound) > level, np.ones(RATE_HZ // 10), "same") > 0
    gate = np.convolve(open_, np.ones(RATE_HZ // 20) / (RATE_HZ // 20), "same")
    return np.rint(sound * gate * 32768) / 32768


NO_DROPOUTS = {
    **NOT_CLIPPED,
    "a noise-gated voice": gated(0.01),
    "a quiet voice whose silence is zeros": np.rint(0.004 * voice(10) * 32768) / 32768,
    "a slow square wave": recorded(0.3 * square(50.0)),
    "a tone switched on and off": np.concatenate([*(np.tile((tone(0.5, -12.0, 330.0), silence(0.5)), 5))]),
    "a tone that changes its level": np.concatenate((tone(1, -30.0), tone(1, -10.0), tone(1, -30.0))),
    "claps over a quiet room": claps() + noise(20, -70.0),
    "plosives": talk() + np.pad(claps()[: RATE_HZ // 4], (2 * RATE_HZ, 10 * RATE_HZ - 2 * RATE_HZ - RATE_HZ // 4)),
}


@pytest.mark.parametrize("what", sorted(NO_DROPOUTS))
def test_sound_that_starts_stops_or_stands_still_by_nature_has_no_dropout(what: str) -> None:
    sound = np.asarray(NO_DROPOUTS[what])
    for samples in (sound, recorded(sound, 8)):
        assert dropouts(samples)[0].count == 0


def test_coarse_samples_stand_still_by_nature() -> None:
    assert dropouts(np.rint(talk() * 128) / 128)[0].count == 0
    loud = np.rint(0.9 * np.sin(2 * np.pi * 150.3 * np.arange(10 * RATE_HZ) / RATE_HZ) * 128) / 128
    assert dropouts(loud)[0].count == 0
    assert dropouts(with_gap(loud, 50))[0].count == 1
