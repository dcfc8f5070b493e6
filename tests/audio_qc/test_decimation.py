"""The stream of about 2 kHz is what a long convolution gives, at every rate and however blocks are cut."""

import numpy as np
import pytest
from scipy import signal

from audio_qc.meters.decimation import Decimator, bspline, power_gain
from tests.signals import noise, tone

RATES_HZ = [8_000, 11_025, 16_000, 22_050, 44_100, 48_000, 96_000, 192_000]


def brought_down(samples: np.ndarray, rate_hz: int, cuts: list[int]) -> np.ndarray:
    decimator = Decimator(rate_hz, len(samples))
    blocks = np.split(samples, cuts, axis=1)
    return np.concatenate([decimator.add(np.ascontiguousarray(block)) for block in blocks], axis=1)


@pytest.mark.parametrize("rate_hz", RATES_HZ)
@pytest.mark.parametrize("cuts", [[], [1, 2, 3, 700], list(range(5, 20_000, 37))])
def test_only_the_kept_outputs_of_the_filter_are_given(rate_hz: int, cuts: list[int]) -> None:
    samples = noise(1, -20.0, 20_000).reshape(1, -1)
    factor = round(rate_hz / 2_000)
    every = signal.fftconvolve(samples[0], bspline(factor), mode="valid")[::factor]
    ours = brought_down(samples, rate_hz, cuts)[0]
    assert len(every) - len(ours) in (0, 1)
    np.testing.assert_allclose(ours, every[: len(ours)], atol=1e-13)


@pytest.mark.parametrize("rate_hz", RATES_HZ)
def test_a_tone_loses_what_the_formula_says(rate_hz: int) -> None:
    ours = brought_down(tone(3, 0.0, 120.0, rate_hz).reshape(1, -1), rate_hz, [])[0]
    two_seconds = ours[: round(2 * rate_hz / round(rate_hz / 2_000))]
    assert 2 * (two_seconds**2).mean() == pytest.approx(power_gain(np.array([120.0]), rate_hz)[0], rel=1e-3)


def test_what_would_fold_onto_hum_is_taken_away() -> None:
    """1900 Hz would appear at 100 Hz after keeping every 24th of 48 000 samples."""
    ours = brought_down(tone(1, 0.0, 1900.0).reshape(1, -1), 48_000, [])[0]
    assert np.abs(ours).max() < 10 ** (-100 / 20)


def test_an_output_is_centred_on_the_frame_that_it_names() -> None:
    click = np.zeros((1, 48_000))
    click[0, 24_046] = 1.0
    decimator = Decimator(48_000, 1)
    assert decimator.first_frame(int(np.argmax(decimator.add(click)))) == pytest.approx(24_046, abs=12)
