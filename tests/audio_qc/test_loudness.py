"""Loudness against EBU Tech 3341 table 1, ITU-R BS.1770-5 and exact readings of these synthetic signals."""

import numpy as np
import pytest

from audio_qc.facts.sound import Loudness
from audio_qc.meters.loudness import LoudnessMeter, k_weighting
from tests.audio_qc.helpers import metered
from tests.signals import RATE_HZ, amplitude, noise, silence, steps, stereo, tone

TOLERANCE_LU = 0.1  # EBU Tech 3341 table 1
EXACT_LU = 0.001  # readings of the same synthetic signals by an independent double-precision meter


def loudness(samples: np.ndarray, rate_hz: int = RATE_HZ, block_frames: int = 32_768) -> Loudness:
    channels = 1 if samples.ndim == 1 else samples.shape[1]
    result: Loudness = metered(LoudnessMeter(rate_hz, channels), samples, block_frames)
    return result


@pytest.mark.parametrize(("level", "exact"), [(-23.0, -22.9933), (-33.0, -32.9933)])
def test_cases_1_and_2_a_steady_tone_reads_its_level_on_all_three_scales(level: float, exact: float) -> None:
    result = loudness(stereo(tone(20, level)))
    readings = (result.integrated_lufs, result.max_short_term_lufs, result.max_momentary_lufs)
    assert readings == pytest.approx((level,) * 3, abs=TOLERANCE_LU)
    assert result.integrated_lufs == pytest.approx(exact, abs=EXACT_LU)


QUIET_ENDS = [(10, -36.0), (60, -23.0), (10, -36.0)]
CASES_3_TO_5 = [
    pytest.param(QUIET_ENDS, -23.0139, id="case 3"),
    pytest.param([(10, -72.0), *QUIET_ENDS, (10, -72.0)], -23.0139, id="case 4"),
    pytest.param([(20, -26.0), (20.1, -20.0), (20, -26.0)], -22.9787, id="case 5"),
]


@pytest.mark.parametrize(("parts", "exact"), CASES_3_TO_5)
def test_cases_3_to_5_the_gates_leave_out_quiet_passages(parts: list[tuple[float, float]], exact: float) -> None:
    result = loudness(stereo(steps(parts)))
    assert result.integrated_lufs == pytest.approx(-23.0, abs=TOLERANCE_LU)
    assert result.integrated_lufs == pytest.approx(exact, abs=EXACT_LU)


def test_case_6_surround_channels_weigh_more() -> None:
    left, centre, surround = tone(20, -28.0), tone(20, -24.0), tone(20, -30.0)
    result = loudness(np.stack((left, left, centre, surround, surround), axis=1))
    assert result.integrated_lufs == pytest.approx(-23.0, abs=TOLERANCE_LU)
    assert result.integrated_lufs == pytest.approx(-23.0163, abs=EXACT_LU)


def test_the_low_frequency_channel_of_six_does_not_count() -> None:
    """BS.1770-5 Annex 1: the LFE channel is left out."""
    five, lfe = [tone(5, level) for level in (-28.0, -28.0, -24.0, -30.0, -30.0)], noise(5, -6.0)
    with_lfe = loudness(np.stack((*five[:3], lfe, *five[3:]), axis=1))
    assert with_lfe == loudness(np.stack(five, axis=1))


def test_case_9_short_term_loudness_is_constant_when_the_pattern_is_three_seconds_long() -> None:
    signal = steps([(1.34, -20.0), (1.66, -30.0)] * 5)
    assert loudness(stereo(signal)).max_short_term_lufs == pytest.approx(-22.986, abs=EXACT_LU)
    for start in range(0, 12 * RATE_HZ, RATE_HZ // 4):
        excerpt = signal[start : start + 3 * RATE_HZ]
        assert loudness(stereo(excerpt)).max_short_term_lufs == pytest.approx(-23.0, abs=TOLERANCE_LU)


@pytest.mark.parametrize("i", range(20))
def test_case_10_maximum_short_term_loudness_wherever_the_three_seconds_begin(i: int) -> None:
    result = loudness(stereo(steps([(i * 0.15, None), (3, -23.0), (1, None)])))
    assert result.max_short_term_lufs == pytest.approx(-22.993, abs=EXACT_LU)


def test_case_12_momentary_loudness_is_constant_when_the_pattern_is_400_ms_long() -> None:
    signal = steps([(0.18, -20.0), (0.22, -30.0)] * 25)
    assert loudness(stereo(signal)).max_momentary_lufs == pytest.approx(-22.960, abs=EXACT_LU)
    for start in range(RATE_HZ, 2 * RATE_HZ, RATE_HZ // 50):
        excerpt = signal[start : start + round(0.4 * RATE_HZ)]
        assert loudness(stereo(excerpt)).max_momentary_lufs == pytest.approx(-23.0, abs=TOLERANCE_LU)


@pytest.mark.parametrize("i", range(20))
def test_case_13_maximum_momentary_loudness_wherever_the_400_ms_begin(i: int) -> None:
    result = loudness(stereo(steps([(i * 0.020, None), (0.4, -23.0), (1, None)])))
    assert result.max_momentary_lufs == pytest.approx(-22.994, abs=EXACT_LU)


def test_a_full_scale_sine_of_997_hz_in_one_channel_reads_minus_3_01() -> None:
    """ITU-R BS.1770-5 Annex 1."""
    assert loudness(tone(20, 0.0, hz=997.0)).integrated_lufs == pytest.approx(-3.01, abs=0.005)
    one_of_two = stereo(tone(20, 0.0, hz=997.0), silence(20))
    assert loudness(one_of_two).integrated_lufs == pytest.approx(-3.01, abs=0.005)


def test_the_filters_at_48_khz_are_those_of_the_recommendation() -> None:
    """ITU-R BS.1770-5 Annex 1 tables 1 and 2."""
    shelf = [1.53512485958697, -2.69169618940638, 1.19839281085285, -1.69065929318241, 0.73248077421585]
    high_pass = [1.0, -2.0, 1.0, -1.99004745483398, 0.99007225036621]
    assert k_weighting(48_000) == pytest.approx(np.array(shelf + high_pass), abs=1e-13)


def gain_db(hz: float, rate_hz: int) -> float:
    z = np.exp(-2j * np.pi * hz / rate_hz * np.arange(3))
    stages = k_weighting(rate_hz).reshape(2, 5)
    response = np.prod([(stage[:3] @ z) / (np.array([1.0, *stage[3:]]) @ z) for stage in stages])
    return float(20 * np.log10(abs(response)))


# The tables' gain at 48 kHz, computed from the published coefficients.
GAINS_DB = {50: -3.934, 100: -1.134, 200: -0.265, 500: 0.043, 1000: 0.6977, 2000: 3.071, 4000: 3.968}


# Worst deviation of redesigned filters with the second numerator scaled, as computed independently per rate.
DEVIATIONS_DB = [(48_000, 0.001), (44_100, 0.002), (32_000, 0.011), (22_050, 0.03), (16_000, 0.065), (192_000, 0.009)]


@pytest.mark.parametrize(("rate_hz", "deviation_db"), DEVIATIONS_DB)
def test_filters_at_other_rates_keep_the_response_at_48_khz(rate_hz: int, deviation_db: float) -> None:
    for hz, gain in GAINS_DB.items():
        assert gain_db(hz, rate_hz) == pytest.approx(gain, abs=deviation_db), hz


@pytest.mark.parametrize("rate_hz", [8_000, 11_025, 12_000, 16_000, 22_050, 44_100, 96_000, 192_000])
def test_case_1_reads_the_same_at_every_sample_rate(rate_hz: int) -> None:
    signal = stereo(tone(10, -23.0, rate_hz=rate_hz))
    assert loudness(signal, rate_hz).integrated_lufs == pytest.approx(-22.99, abs=0.06)


@pytest.mark.parametrize("rate_hz", [8_000, 11_025])
def test_low_rates_are_interpolated_so_that_high_voices_read_right(rate_hz: int) -> None:
    """A 3 kHz tone at 8 kHz would read 0.2 LU too high through redesigned filters."""
    expected = loudness(stereo(tone(10, -23.0, hz=3000.0))).integrated_lufs
    assert loudness(stereo(tone(10, -23.0, 3000.0, rate_hz)), rate_hz).integrated_lufs == pytest.approx(
        expected, abs=0.01
    )


def test_mono_reads_three_decibels_below_the_same_sound_on_two_channels() -> None:
    mono, both = loudness(tone(5, -20.0)).integrated_lufs, loudness(stereo(tone(5, -20.0))).integrated_lufs
    assert mono is not None
    assert both == pytest.approx(mono + 3.0103, abs=1e-4)


def test_too_short_a_recording_is_not_measured_and_says_so() -> None:
    result = loudness(tone(0.39, -20.0))
    assert (result.integrated_lufs, result.max_momentary_lufs, result.max_short_term_lufs) == (None, None, None)
    assert "0.4 second" in result.integrated_reason
    just_enough = loudness(tone(0.4, -20.0))
    assert just_enough.integrated_lufs is not None
    assert just_enough.max_short_term_lufs is None
    assert "3 seconds" in just_enough.max_short_term_reason


def test_digital_silence_has_no_loudness() -> None:
    result = loudness(silence(5))
    assert result.integrated_lufs is None
    assert "-70 LUFS" in result.integrated_reason
    assert result.max_momentary_lufs is None
    assert "silence" in result.max_momentary_reason


def test_sound_below_the_absolute_gate_has_maxima_but_no_integrated_loudness() -> None:
    result = loudness(tone(5, -80.0))
    assert result.integrated_lufs is None
    assert result.max_momentary_lufs == pytest.approx(-80 - 3.0, abs=0.1)


def test_loud_sound_after_long_silence_is_not_slowed_or_spoilt_by_the_filters_memory() -> None:
    signal = np.concatenate((tone(1, -6.0), silence(30), tone(5, -6.0)))
    alone = loudness(tone(5, -6.0)).max_momentary_lufs
    assert loudness(signal).max_momentary_lufs == pytest.approx(alone, abs=0.01)


def test_very_quiet_sound_is_filtered_as_exactly_as_loud_sound() -> None:
    signal = noise(4, -20.0)
    loud, quiet = loudness(signal).max_momentary_lufs, loudness(signal * amplitude(-120.0)).max_momentary_lufs
    assert loud is not None
    assert quiet == pytest.approx(loud - 120.0, abs=1e-6)


def test_a_steady_level_scales_exactly() -> None:
    signal = noise(10, -30.0)
    quiet, loud = loudness(signal).integrated_lufs, loudness(signal * amplitude(12.0)).integrated_lufs
    assert quiet is not None
    assert loud == pytest.approx(quiet + 12.0, abs=1e-6)


def test_case_11_every_short_term_maximum_of_the_live_meters_signal_is_read() -> None:
    """Tech 3341 table 1, case 11: twenty tones of 3 s from -38 to -19 dBFS; a file meter reads them one by one."""
    for i in range(20):
        parts = [(i * 0.15, None), (3.0, -38.0 + i), (3.0 - i * 0.15, None)]
        assert loudness(stereo(steps(parts))).max_short_term_lufs == pytest.approx(-38.0 + i, abs=0.1)


def test_case_14_every_momentary_maximum_of_the_live_meters_signal_is_read() -> None:
    """Tech 3341 table 1, case 14: as case 11 with tones of 400 ms."""
    for i in range(20):
        parts = [(i * 0.02, None), (0.4, -38.0 + i), (0.4 - i * 0.02, None)]
        assert loudness(stereo(steps(parts))).max_momentary_lufs == pytest.approx(-38.0 + i, abs=0.1)


# Tech 3342 table 1, cases 1 to 4: levels of 20 s each and the loudness range, to +-1 LU. A correct meter reads these
# synthetic signals to 0.01 LU, as computed independently.
RANGES = [([-20, -30], 10.0), ([-20, -15], 5.0), ([-40, -20], 20.0), ([-50, -35, -20, -35, -50], 15.0)]


@pytest.mark.parametrize(("levels", "expected"), RANGES)
@pytest.mark.parametrize("repeats", [1, 2])
def test_loudness_range_of_ebu_tech_3342(levels: list[float], expected: float, repeats: int) -> None:
    """Repeating the whole signal changes nothing."""
    signal = stereo(steps([(20.0, level) for level in levels] * repeats))
    assert loudness(signal).loudness_range_lu == pytest.approx(expected, abs=0.02)


def test_loudness_over_time_follows_the_signal_ten_times_a_second() -> None:
    curve = loudness(stereo(steps([(5.0, -20.0), (5.0, -40.0), (5.0, None)]))).curve
    assert (len(curve.momentary_lufs), len(curve.short_term_lufs)) == (147, 121)
    # Value n ends at the first's time plus n tenths of a second.
    at = {"loud": round((4.0 - curve.first_momentary_s) * 10), "quiet": round((9.0 - curve.first_momentary_s) * 10)}
    assert curve.momentary_lufs[at["loud"]] == -20.0
    assert curve.momentary_lufs[at["quiet"]] == -40.0
    assert curve.short_term_lufs[round((4.0 - curve.first_short_term_s) * 10)] == -20.0
    assert curve.momentary_lufs[-1] is None
    assert curve.short_term_lufs[-1] is None


def test_too_short_a_recording_has_no_range_and_says_so() -> None:
    result = loudness(tone(2.9, -20.0))
    assert result.loudness_range_lu is None
    assert "3 seconds" in result.loudness_range_reason
