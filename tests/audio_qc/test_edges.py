"""How a recording begins and ends."""

import numpy as np
import pytest

from audio_qc.meters.edges import EdgeMeter
from tests.audio_qc.helpers import metered

RATE = 48_000
MOMENTS = np.arange(RATE) / RATE
VOICE = sum(np.sin(2 * np.pi * 130 * n * MOMENTS) / n for n in range(1, 9)) * 0.1
VOICE = VOICE + np.random.default_rng(4).normal(0, 0.001, RATE)


def edges(samples: np.ndarray, **how: int):
    return metered(EdgeMeter(RATE, np.atleast_2d(samples.T).shape[0]), samples, **how)


@pytest.mark.parametrize("block_frames", [1, 7, 1000, 48_000])
def test_the_length_of_the_blocks_makes_no_difference(block_frames):
    assert edges(VOICE[:5000], block_frames=block_frames) == edges(VOICE[:5000])


def test_the_outermost_samples_are_told_from_the_inside_outwards():
    found = edges(VOICE)
    assert found.last[0].samples == tuple(VOICE[-12:])
    assert found.first[0].samples == tuple(VOICE[:12][::-1])


def test_the_weights_foretell_the_next_sample():
    cut = RATE // 2
    edge = edges(VOICE[:cut]).last[0]
    foretold = np.dot(edge.samples, edge.weights)
    assert abs(foretold - VOICE[cut]) < 6 * edge.error
    assert abs(foretold - VOICE[cut + 150]) > 6 * edge.error


def test_silence_and_a_few_samples_tell_nothing():
    assert edges(np.zeros(RATE)).last == (None,)
    assert edges(VOICE[:50]).first == (None,)


def test_each_channel_has_its_own():
    found = edges(np.stack([VOICE, np.zeros(RATE)], axis=1))
    assert found.first[0] is not None
    assert found.first[1] is None
