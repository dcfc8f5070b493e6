"""Comparison of channels with known relations."""

import numpy as np
import pytest

from audio_qc.facts.sound import ChannelPair
from audio_qc.meters.channels import ChannelMeter
from audio_qc.meters.level import LevelMeter
from tests.audio_qc.helpers import metered_by_units
from tests.signals import noise, silence, stereo


def pairs(samples: np.ndarray) -> tuple[ChannelPair, ...]:
    levels = LevelMeter(samples.shape[1])
    channels = ChannelMeter(samples.shape[1], levels)
    metered_by_units(levels, samples)
    for block in np.array_split(np.ascontiguousarray(samples.T), 7, axis=1):
        channels.add(np.ascontiguousarray(block))
    return channels.result()


VOICE, OTHER = noise(1, -20.0, seed=1), noise(1, -20.0, seed=2)


@pytest.mark.parametrize(
    ("left", "right", "correlation"),
    [
        (VOICE, OTHER, 0.0),
        (VOICE, -0.5 * VOICE, -1.0),
        (VOICE, VOICE + 0.2, 1.0),
        (VOICE, 0.6 * VOICE + 0.8 * OTHER, 0.6),
    ],
)
def test_correlation_is_pearsons_whatever_level_and_offset(
    left: np.ndarray, right: np.ndarray, correlation: float
) -> None:
    (pair,) = pairs(stereo(left, right))
    assert pair.correlation == pytest.approx(np.corrcoef(left, right)[0, 1], abs=1e-9)
    assert pair.correlation == pytest.approx(correlation, abs=0.02)
    assert not pair.identical


def test_identical_means_every_sample() -> None:
    assert pairs(stereo(VOICE))[0].identical
    almost = VOICE.copy()
    almost[12_345] += 2.0**-23
    assert not pairs(stereo(VOICE, almost))[0].identical


def test_a_silent_channel_has_no_correlation() -> None:
    assert pairs(stereo(VOICE, silence(1)))[0].correlation is None


def test_every_two_of_four_channels_are_compared() -> None:
    found = pairs(np.stack((VOICE, OTHER, -VOICE, VOICE), axis=1))
    assert [(pair.first, pair.second) for pair in found] == [(0, 1), (0, 2), (0, 3), (1, 2), (1, 3), (2, 3)]
    assert found[1].correlation == pytest.approx(-1.0)
    assert [pair.identical for pair in found] == [False, False, True, False, False, False]
