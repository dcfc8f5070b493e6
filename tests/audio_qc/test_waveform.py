"""The outline holds every peak in few bins."""

import numpy as np
import pytest

from audio_qc.facts.sound import Waveform
from audio_qc.meters.waveform import MOST_BINS, WaveformMeter
from tests.audio_qc.helpers import metered_by_units
from tests.signals import noise, stereo


def waveform(samples: np.ndarray) -> Waveform:
    channels = 1 if samples.ndim == 1 else samples.shape[1]
    result: Waveform = metered_by_units(WaveformMeter(48_000, channels), samples)
    return result


@pytest.mark.parametrize("frames", [1, 47, 48, 49, 191_999, 192_000, 192_001, 1_000_003])
def test_bins_cover_the_recording_and_are_at_most_four_thousand(frames: int) -> None:
    result = waveform(noise(frames / 48_000, -20.0))
    (peaks,) = result.peaks
    assert len(peaks) == 2 * -(-frames // result.frames_per_bin)
    assert len(peaks) <= 2 * MOST_BINS
    # Bins are never shorter than a millisecond, and otherwise at least half as many as may be.
    assert result.frames_per_bin == 48 or len(peaks) > MOST_BINS


def test_each_bin_holds_the_lowest_and_highest_sample_of_its_frames() -> None:
    samples = noise(1, -12.0)
    result = waveform(samples)
    width = result.frames_per_bin
    for n, (low, high) in enumerate(zip(result.peaks[0][::2], result.peaks[0][1::2], strict=True)):
        part = np.clip(samples[n * width : (n + 1) * width], -1, 1)
        assert (low, high) == (round(part.min() * 127), round(part.max() * 127))


def test_channels_are_drawn_apart_and_over_full_scale_is_drawn_at_the_edge() -> None:
    result = waveform(stereo(np.full(10, 0.5), np.linspace(-3.0, 3.0, 10)))
    assert set(result.peaks[0]) == {64}
    assert (min(result.peaks[1]), max(result.peaks[1])) == (-127, 127)
