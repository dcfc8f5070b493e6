"""True resolution of samples with known word lengths."""

import numpy as np
import pytest

from audio_qc.facts.faults import Resolution
from audio_qc.meters.resolution import ResolutionMeter
from tests.audio_qc.helpers import metered
from tests.signals import noise, silence, stereo

SOUND = noise(0.5, -30.0)


def used(bits: int, subtype: str, samples: np.ndarray = SOUND) -> int | None:
    steps = 2.0 ** (bits - 1)
    facts = metered(ResolutionMeter(subtype), np.rint(samples * steps) / steps, 1000)
    assert isinstance(facts, Resolution)
    assert (facts.used_bits is None) == bool(facts.reason)
    return facts.used_bits


@pytest.mark.parametrize("subtype", ["PCM_24", "PCM_32", "FLOAT", "DOUBLE"])
@pytest.mark.parametrize("bits", [8, 12, 16, 20, 24])
def test_the_bits_that_are_used_are_counted(bits: int, subtype: str) -> None:
    assert used(bits, subtype) == bits


@pytest.mark.parametrize(("bits", "subtype"), [(8, "PCM_U8"), (16, "PCM_16"), (32, "PCM_32"), (27, "PCM_32")])
def test_a_true_file_uses_all_its_bits(bits: int, subtype: str) -> None:
    assert used(bits, subtype) == bits


def test_one_sample_with_its_lowest_bit_set_makes_a_file_true() -> None:
    sound = np.rint(SOUND * 2**15) / 2**15
    sound[-1] += 2.0**-23
    assert used(24, "PCM_24", sound) == 24


def test_one_channel_is_enough() -> None:
    assert used(24, "PCM_24", stereo(silence(0.5), SOUND)) == 24


def test_computed_floats_and_coded_sound_and_silence_have_no_resolution() -> None:
    assert used(40, "FLOAT") is None
    assert used(16, "MPEG_LAYER_III") is None
    assert used(16, "PCM_16", silence(0.5)) is None
