"""Sample peak, RMS, crest factor and DC offset of signals with known answers."""

import numpy as np
import pytest

from audio_qc.facts.sound import ChannelLevel, Levels
from audio_qc.meters.level import LevelMeter
from tests.audio_qc.helpers import metered_by_units
from tests.signals import silence, stereo, tone


def levels(samples: np.ndarray) -> tuple[ChannelLevel, ...]:
    result: Levels = metered_by_units(LevelMeter(1 if samples.ndim == 1 else samples.shape[1]), samples)
    assert result.sample_peak_dbfs == max(one.peak_dbfs for one in result.channels if one.peak_dbfs is not None)
    return result.channels


def test_a_sine_has_its_rms_three_decibels_below_its_peak() -> None:
    """Root mean square of a sine: peak / sqrt(2), so a full-scale sine reads -3.01 dBFS."""
    (level,) = levels(tone(1, -6.0, hz=1000.0))
    assert level.peak_dbfs == pytest.approx(-6.0, abs=1e-6)
    assert level.rms_dbfs == pytest.approx(-9.0103, abs=1e-4)
    assert level.crest_factor_db == pytest.approx(3.0103, abs=1e-4)
    assert level.dc_offset_percent == pytest.approx(0.0, abs=1e-9)


def test_an_offset_is_found_and_left_out_of_the_level_without_dc() -> None:
    (level,) = levels(tone(1, -20.0) + 0.1)
    assert level.dc_offset_percent == pytest.approx(10.0, abs=1e-6)
    assert level.rms_without_dc_dbfs == pytest.approx(-23.0103, abs=1e-4)
    assert level.rms_dbfs == pytest.approx(10 * np.log10(0.01 + 0.005), abs=1e-4)


def test_the_negative_rail_counts_as_full_scale() -> None:
    (level,) = levels(np.array([0.0, -1.0, 0.25]))
    assert level.peak_dbfs == 0.0


def test_channels_are_kept_apart() -> None:
    left, right = levels(stereo(tone(1, -10.0), silence(1)))
    assert left.peak_dbfs == pytest.approx(-10.0, abs=1e-6)
    assert (right.peak_dbfs, right.rms_dbfs, right.crest_factor_db) == (None, None, None)
    assert "silence" in right.reason


def test_a_constant_has_no_level_beside_its_offset() -> None:
    (level,) = levels(np.full(10_000, 0.3))
    assert level.rms_without_dc_dbfs is None
    assert level.dc_offset_percent == pytest.approx(30.0, abs=1e-9)
