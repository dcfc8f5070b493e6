"""An edge in the spectrum is found where it is; a spectrum that only fades, or ends where it must, has none."""

import numpy as np
import pytest

from audio_qc.meters.bandwidth import bandwidth

STEP_HZ = 48_000 / 4_096


def spectrum(rate_hz: int) -> tuple[np.ndarray, np.ndarray]:
    """Return speech's long-term slope over a noise floor, uneven by a few dB as a real one."""
    hz = np.arange(0.0, rate_hz / 2 + 1e-9, STEP_HZ)
    uneven = np.random.default_rng(1).normal(0.0, 2.0, len(hz))
    return hz, -50.0 - 20.0 * np.log2(1.0 + hz / 3_000.0) + uneven


@pytest.mark.parametrize("rate_hz", [22_050, 32_000, 44_100, 48_000, 96_000])
@pytest.mark.parametrize("share", [0.35, 0.5, 0.7, 0.83])
def test_an_edge_is_found_where_it_is_and_as_deep_as_it_is(rate_hz: int, share: float) -> None:
    hz, density = spectrum(rate_hz)
    edge = share * rate_hz / 2
    facts = bandwidth(hz, density - 35.0 * (hz > edge), rate_hz / 2)
    assert facts.edge_hz == pytest.approx(edge, abs=200.0)
    assert facts.drop_db == pytest.approx(35.0, abs=4.0)


@pytest.mark.parametrize("rate_hz", [16_000, 44_100, 48_000, 96_000])
def test_a_spectrum_that_fades_has_no_edge(rate_hz: int) -> None:
    facts = bandwidth(*spectrum(rate_hz), rate_hz / 2)
    assert (facts.edge_hz, facts.reason) == (None, "")
    assert facts.drop_db is not None


def test_a_filter_close_to_half_the_sample_rate_is_no_edge() -> None:
    hz, density = spectrum(48_000)
    assert bandwidth(hz, density - 60.0 * (hz > 21_000.0), 24_000).edge_hz is None


def test_a_fall_that_rises_again_is_no_edge() -> None:
    hz, density = spectrum(48_000)
    assert bandwidth(hz, density - 35.0 * ((hz > 9_000.0) & (hz < 12_000.0)), 24_000).edge_hz is None


def test_a_voice_that_ends_low_is_no_edge() -> None:
    hz, density = spectrum(48_000)
    assert bandwidth(hz, density - 35.0 * (hz > 1_500.0), 24_000).edge_hz is None


def test_lines_are_no_edge() -> None:
    hz, density = spectrum(48_000)
    density[(hz > 9_990.0) & (hz < 10_010.0)] += 60.0
    assert bandwidth(hz, density, 24_000).edge_hz is None


def test_digital_silence_has_no_edge() -> None:
    hz, density = spectrum(48_000)
    facts = bandwidth(hz, np.full_like(density, -300.0), 24_000)
    assert (facts.edge_hz, facts.drop_db) == (None, 0.0)


def test_at_very_low_rates_nothing_can_be_said() -> None:
    facts = bandwidth(np.arange(0.0, 2_001.0, 10.0), np.full(201, -60.0), 2_000)
    assert (facts.edge_hz, facts.drop_db) == (None, None)
    assert "too low" in facts.reason
