"""However a recording is cut into blocks, it measures the same."""

import tracemalloc

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audio_qc.meters.together import Meters
from audio_qc.plain import to_plain
from tests.signals import noise, silence, steps, tone

TOLERANCE = 1e-9  # sums are added up in another order; everything counted must be equal exactly


def recording(rate_hz: int) -> np.ndarray:
    """Return four seconds of two channels with bursts, clipping, silence and a click, shape (2, frames)."""
    left = steps([(0.4, -12.0), (0.3, None), (1.3, -30.0), (2.0, 3.0)], 300.0, rate_hz) + noise(4, -60.0, rate_hz)
    right = np.concatenate((noise(2.5, -20.0, rate_hz, 2), silence(0.5, rate_hz), tone(1, -3.0, 900.0, rate_hz)))
    right[rate_hz // 3] = 0.99
    return np.clip(np.stack((left, right)), -1.0, 1.0)


def results(samples: np.ndarray, rate_hz: int, cuts: list[int]) -> object:
    meters = Meters(rate_hz, len(samples), "PCM_24")
    for block in np.split(samples, sorted(cuts), axis=1):
        if block.shape[1]:
            meters.add(np.ascontiguousarray(block))
    return {name: to_plain(value) for name, value in meters.results().items()}


def same(one: object, other: object) -> None:
    if isinstance(one, dict):
        assert isinstance(other, dict)
        assert one.keys() == other.keys()
        for key in one:
            same(one[key], other[key])
    elif isinstance(one, list | tuple):
        assert isinstance(other, list | tuple)
        assert len(one) == len(other)
        for a, b in zip(one, other, strict=True):
            same(a, b)
    elif isinstance(one, float):
        assert other == pytest.approx(one, abs=TOLERANCE)
    else:
        assert one == other


SIGNALS = {rate_hz: recording(rate_hz) for rate_hz in (8_000, 22_050, 48_000)}
WHOLE = {rate_hz: results(samples, rate_hz, []) for rate_hz, samples in SIGNALS.items()}


@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_any_split_into_blocks_gives_the_same_measurement(data: st.DataObject) -> None:
    rate_hz = data.draw(st.sampled_from(sorted(SIGNALS)))
    samples = SIGNALS[rate_hz]
    cuts = data.draw(st.lists(st.integers(1, samples.shape[1] - 1), max_size=25))
    same(results(samples, rate_hz, cuts), WHOLE[rate_hz])


@pytest.mark.parametrize("block_frames", [1, 7, 63, 64, 65])
def test_blocks_shorter_than_the_filters_give_the_same_measurement(block_frames: int) -> None:
    samples = SIGNALS[8_000][:, 3000:9000]
    cuts = list(range(block_frames, samples.shape[1], block_frames))
    same(results(samples, 8_000, cuts), results(samples, 8_000, []))


def test_memory_does_not_grow_with_the_length_but_for_a_few_numbers_a_second() -> None:
    """Half an hour at 8 kHz would be 115 MB held as it is; the gating blocks' powers are 0.2 MB.

    What does not grow is more: the quietest seconds that are kept whole for the hum are 0.5 MB however long it runs.
    """
    meters, block = Meters(8_000, 1, "PCM_24"), SIGNALS[8_000][:1]
    meters.add(block)
    tracemalloc.start()
    for _ in range(450):
        meters.add(block)
    kept, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert kept < 3_000_000
    assert peak < 20_000_000


def test_the_comparison_would_notice_a_difference() -> None:
    changed = SIGNALS[48_000].copy()
    changed[0, 1000] += 1e-3
    with pytest.raises(AssertionError):
        same(results(changed, 48_000, []), WHOLE[48_000])
