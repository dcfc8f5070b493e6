"""Clipping and digital silence: runs of equal samples with known places."""

import numpy as np
import pytest

from audio_qc.facts.faults import Clipping, DigitalSilence
from audio_qc.meters.samples import SampleMeter
from audio_qc.meters.spans import MOST_SPANS, SpanLog
from tests.audio_qc.helpers import metered
from tests.signals import RATE_HZ, noise, silence, stereo, tone


def runs(samples: np.ndarray, rate_hz: int = RATE_HZ, block_frames: int = 32_768) -> tuple[Clipping, DigitalSilence]:
    channels = 1 if samples.ndim == 1 else samples.shape[1]
    clipping, _, _, silent = metered(SampleMeter(rate_hz, channels), samples, block_frames)
    return clipping, silent


def quiet(frames: int) -> np.ndarray:
    return noise(frames / RATE_HZ, -40.0)


def with_run(samples: np.ndarray, start: int, length: int, value: float) -> np.ndarray:
    samples = samples.copy()
    samples[start : start + length] = value
    return samples


@pytest.mark.parametrize("value", [1.0, -1.0, 32767 / 32768, 0.99, -32124 / 32768])
def test_three_equal_samples_at_either_rail_are_clipping(value: float) -> None:
    clipping, _ = runs(with_run(quiet(10_000), 500, 3, value))
    (channel,) = clipping.channels
    assert (channel.runs, channel.clipped_samples, channel.longest_run_frames) == (1, 3, 3)
    assert (channel.positive_runs, channel.negative_runs) == ((1, 0) if value > 0 else (0, 1))
    (span,) = clipping.spans
    assert (span.start_frame, span.end_frame, span.channel) == (500, 503, 0)
    assert span.start_s == pytest.approx(500 / RATE_HZ)


@pytest.mark.parametrize("length", [1, 2])
def test_one_or_two_full_scale_samples_are_not_clipping(length: int) -> None:
    clipping, _ = runs(with_run(quiet(10_000), 500, length, 1.0))
    assert (clipping.moments, clipping.spans, clipping.share_percent) == (0, (), 0.0)


def test_equal_samples_below_full_scale_are_not_clipping() -> None:
    assert runs(with_run(quiet(10_000), 500, 50, 0.9))[0].moments == 0


def test_a_loud_unclipped_voice_range_tone_is_not_clipping() -> None:
    sixteen_bit = np.rint(tone(2, 0.0, hz=440.0) * 32767) / 32768
    assert runs(sixteen_bit)[0].moments == 0


def test_a_tone_driven_6_db_over_full_scale_clips_at_both_rails_twice_a_period() -> None:
    """A sine at twice full scale is above full scale for a third of each half period: asin(1/2) = 30 degrees."""
    clipping, _ = runs(np.clip(tone(1, 6.0206, hz=100.0), -1.0, 1.0))
    (channel,) = clipping.channels
    assert (channel.positive_runs, channel.negative_runs) == (100, 100)
    assert clipping.share_percent == pytest.approx(200 / 3, abs=0.5)
    assert clipping.longest_run_s == pytest.approx(0.01 / 3, abs=2 / RATE_HZ)
    assert clipping.moments == 1


def test_runs_a_quarter_of_a_second_apart_are_one_moment_and_farther_ones_two() -> None:
    gap = RATE_HZ // 4
    near = with_run(with_run(quiet(3 * gap), 100, 4, 1.0), 104 + gap, 4, 1.0)
    far = with_run(with_run(quiet(3 * gap), 100, 4, 1.0), 105 + gap, 4, 1.0)
    assert (runs(near)[0].moments, runs(far)[0].moments) == (1, 2)
    assert runs(near)[0].channels[0].runs == runs(far)[0].channels[0].runs == 2


def test_a_run_that_ends_with_the_recording_counts() -> None:
    clipping, silent = runs(np.concatenate((quiet(1000), np.ones(5))))
    assert clipping.channels[0].longest_run_frames == 5
    assert clipping.spans[0].end_frame == 1005
    assert runs(np.concatenate((quiet(1000), silence(0.2))))[1].longest_s == pytest.approx(0.2)
    assert silent.count == 0


def test_each_channel_is_located() -> None:
    clipping, _ = runs(stereo(quiet(10_000), with_run(quiet(10_000), 5000, 10, -1.0)))
    assert [channel.runs for channel in clipping.channels] == [0, 1]
    assert [span.channel for span in clipping.spans] == [1]


def test_exact_zeros_are_found_and_near_zeros_are_not() -> None:
    signal = np.concatenate((quiet(9600), silence(0.5), quiet(9600), np.full(24_000, 1e-9), silence(0.05), quiet(10)))
    _, silent = runs(signal)
    assert (silent.count, silent.longest_s) == (1, pytest.approx(0.5))
    (span,) = silent.spans
    assert (span.start_frame, span.end_frame) == (9600, 9600 + 24_000)


def test_very_many_moments_are_listed_joined_and_counted_apart() -> None:
    moments = 1000
    signal = np.tile(with_run(quiet(RATE_HZ // 2), 100, 3, 1.0), moments)
    clipping, _ = runs(signal)
    assert clipping.moments == moments
    assert 0 < len(clipping.spans) <= MOST_SPANS
    assert clipping.spans[0].start_frame == 100
    assert clipping.spans[-1].end_frame == (moments - 1) * RATE_HZ // 2 + 103
    assert clipping.spans_merged_s > 0.25


def test_joining_late_gives_what_joining_from_the_start_would_have_given() -> None:
    starts = np.cumsum(np.random.default_rng(3).integers(10, 400, 500))
    late = SpanLog(most=20, gap_frames=5)
    for start in starts:
        late.add(int(start), int(start) + 3)
    early = SpanLog(most=1000, gap_frames=late.gap_frames)
    for start in starts:
        early.add(int(start), int(start) + 3)
    assert late.spans == early.spans
    assert late.count == early.count == 500
