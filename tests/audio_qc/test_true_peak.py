"""True peak against EBU Tech 3341 table 1 and against plain interpolation of the whole signal."""

import numpy as np
import pytest
from scipy.signal import firwin

from audio_qc.facts.sound import TruePeak
from audio_qc.meters.interpolation import sinc_phases
from audio_qc.meters.truepeak import TruePeakMeter, oversampling_for
from tests.audio_qc.helpers import metered
from tests.signals import RATE_HZ, faded, noise, silence, stereo, tone


def true_peak(samples: np.ndarray, rate_hz: int = RATE_HZ, block_frames: int = 32_768) -> TruePeak:
    channels = 1 if samples.ndim == 1 else samples.shape[1]
    result: TruePeak = metered(TruePeakMeter(rate_hz, channels), samples, block_frames)
    return result


# Tech 3341 cases 15 to 19: divisor of the sample rate, peak in full scales, phase, expected dBTP; then the reading of
# these exact signals by an independent long windowed sinc at four times the rate.
CASES = [
    (4, 0.50, 0.0, -6.0, -6.021),
    (4, 0.50, 45.0, -6.0, -6.020),
    (6, 0.50, 60.0, -6.0, -6.019),
    (8, 0.50, 67.5, -6.0, -6.019),
    (4, 1.41, 45.0, 3.0, 2.985),
]


@pytest.mark.parametrize(("divisor", "peak", "degrees", "expected", "exact"), CASES)
def test_cases_15_to_19_find_the_peak_between_the_samples(
    divisor: int, peak: float, degrees: float, expected: float, exact: float
) -> None:
    signal = faded(peak * tone(1.0, 0.0, RATE_HZ / divisor, degrees=degrees))
    reading = true_peak(stereo(signal)).true_peak_dbtp
    assert reading is not None
    assert expected - 0.4 <= reading <= expected + 0.2
    assert reading == pytest.approx(exact, abs=0.005)


def one_loud_period(offset: int) -> np.ndarray:
    """Return half-scale fs/6 holding one full-scale period of fs/4, made at four times the rate and decimated."""
    fast = 4 * RATE_HZ
    cycles = np.concatenate((np.full(24_000, RATE_HZ / 6), np.full(16, RATE_HZ / 4), np.full(24_000, RATE_HZ / 6)))
    peaks = np.concatenate((np.full(24_000, 0.5), np.full(16, 1.0), np.full(24_000, 0.5)))
    phase = 2 * np.pi * np.concatenate(([0.0], np.cumsum(cycles)[:-1])) / fast
    low_pass = firwin(255, 0.9 / 4, window=("kaiser", 8.0))
    return faded(np.convolve(peaks * np.sin(phase), low_pass, mode="same")[offset::4])


# The same signals read by an independent long windowed sinc at four times the rate; the low-pass costs up to 0.1 dB.
@pytest.mark.parametrize(("offset", "exact"), [(0, -0.158), (1, -0.143), (2, -0.193), (3, -0.143)])
def test_cases_20_to_23_find_one_loud_period_however_it_was_sampled(offset: int, exact: float) -> None:
    reading = true_peak(stereo(one_loud_period(offset))).true_peak_dbtp
    assert reading is not None
    assert -0.4 <= reading <= 0.2
    assert reading == pytest.approx(exact, abs=0.05)


RATES = [
    (8_000, 16),
    (22_050, 16),
    (32_000, 4),
    (44_100, 4),
    (48_000, 4),
    (88_200, 4),
    (96_000, 2),
    (176_400, 2),
    (192_000, 1),
]


@pytest.mark.parametrize(("rate_hz", "times"), RATES)
def test_oversampling_reaches_what_annex_2_asks_for(rate_hz: int, times: int) -> None:
    assert oversampling_for(rate_hz) == times
    signal = faded(tone(0.2, -6.0, rate_hz=rate_hz), rate_hz=rate_hz)
    assert true_peak(signal, rate_hz).true_peak_dbtp == pytest.approx(-6.0, abs=0.02)


def exhaustive_peak(samples: np.ndarray) -> float:
    """Return the peak with every output of the interpolator computed, by NumPy."""
    phases = sinc_phases(4)
    padded = np.pad(samples, (31, 32))
    return float(max(np.abs(np.convolve(padded, phase[::-1], mode="valid")).max() for phase in phases))


@pytest.mark.parametrize("seed", range(8))
def test_skipping_stretches_never_misses_the_maximum(seed: int) -> None:
    signal = noise(0.5, -20.0, seed=seed) * np.repeat(np.random.default_rng(seed).random(24), 1000)
    reading = true_peak(signal).true_peak_dbtp
    assert reading == pytest.approx(20 * np.log10(exhaustive_peak(signal)), abs=1e-9)


def test_the_worst_pattern_for_the_filter_is_not_skipped_after_a_louder_tone() -> None:
    """Samples of 0.4 with the signs of the filter's taps add up to more than the full-scale tone before them."""
    half_way = sinc_phases(4)[2]
    samples = np.concatenate((faded(tone(0.5, 0.0, hz=100.0)), np.zeros(1000)))
    samples[-500 : -500 + len(half_way)] = 0.4 * np.sign(half_way)
    highest = 0.4 * np.abs(half_way).sum()
    assert highest > 1.1
    assert true_peak(samples).true_peak_dbtp == pytest.approx(20 * np.log10(highest), abs=1e-9)


def test_a_single_click_near_a_block_border_is_found_at_its_place() -> None:
    for frame in (0, 1, 31, 32, 63, 64, 32_767, 32_768, 39_999):
        signal = np.zeros(40_000)
        signal[frame] = 0.5
        result = true_peak(signal)
        assert result.at_frame == frame
        assert result.true_peak_dbtp == pytest.approx(-6.0206, abs=1e-4)


def test_true_peak_is_never_below_the_sample_peak() -> None:
    """At a quarter of the rate and phase 0 the example filter of Annex 2 reads 0.2 dB under the samples."""
    signal = tone(0.5, -6.0, RATE_HZ / 4)
    reading = true_peak(signal).true_peak_dbtp
    assert reading is not None
    assert reading >= 20 * np.log10(np.abs(signal).max()) - 1e-9


def test_each_channel_has_its_own_peak() -> None:
    result = true_peak(stereo(tone(1, -20.0), tone(1, -10.0)))
    assert result.channels_dbtp == pytest.approx((-20.0, -10.0), abs=0.01)
    assert result.true_peak_dbtp == result.channels_dbtp[1]


def test_silence_has_no_peak_and_says_so() -> None:
    result = true_peak(stereo(silence(1), silence(1)))
    assert (result.true_peak_dbtp, result.channels_dbtp, result.at_frame) == (None, (None, None), None)
    assert "silence" in result.reason
