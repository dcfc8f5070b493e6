"""Channels that fall silent for a while."""

from pathlib import Path

import numpy as np
import pytest

from audio_qc import SPOKEN_INTERVIEW, judge, measure
from audio_qc.facts.faults import ChannelLoss
from audio_qc.verdict import verdict
from tests.audio_qc.test_noise import results
from tests.signals import RATE_HZ, noise, silence, steps, write

SECONDS = 90


def conversation() -> tuple[np.ndarray, np.ndarray]:
    """Return two microphones at one table: each hears its own speaker, and the other's 15 dB quieter."""
    one = steps([(6.0, -14.0), (9.0, None)] * (SECONDS // 15), hz=210.0)
    other = np.roll(steps([(6.0, -14.0), (9.0, None)] * (SECONDS // 15), hz=140.0), 8 * RATE_HZ)
    return one + 0.18 * other + noise(SECONDS, -62.0, seed=1), other + 0.18 * one + noise(SECONDS, -62.0, seed=2)


def losses(left: np.ndarray, right: np.ndarray) -> tuple[ChannelLoss, ...]:
    found = results(np.stack((left, right), axis=1))["channel_losses"]
    assert isinstance(found, tuple)
    return found


def dead_from(samples: np.ndarray, start_s: float, end_s: float, hiss_dbfs: float | None = -85.0) -> np.ndarray:
    start, end = round(start_s * RATE_HZ), round(end_s * RATE_HZ)
    changed = samples.copy()
    left_over = silence(end_s - start_s) if hiss_dbfs is None else noise(end_s - start_s, hiss_dbfs, seed=3)
    changed[start:end] = left_over
    return changed


@pytest.mark.parametrize("hiss_dbfs", [-85.0, None])
def test_a_battery_that_ends_half_way_is_found_to_the_second(hiss_dbfs: float | None) -> None:
    left, right = conversation()
    (loss,) = losses(left, dead_from(right, 40.0, SECONDS, hiss_dbfs))
    assert loss.span.channel == 1
    assert (loss.span.start_s, loss.span.end_s) == pytest.approx((40.0, SECONDS), abs=1.1)
    if hiss_dbfs is None:
        assert (loss.level_dbfs, loss.below_db) == (None, None)
    else:
        assert loss.level_dbfs == pytest.approx(hiss_dbfs, abs=0.5)


def test_a_loss_that_ends_again_is_one_stretch() -> None:
    left, right = conversation()
    (loss,) = losses(dead_from(left, 20.0, 50.0), right)
    assert (loss.span.channel, loss.span.start_s, loss.span.end_s) == (
        0,
        pytest.approx(20, abs=1.1),
        pytest.approx(50, abs=1.1),
    )


def test_speakers_who_take_turns_a_short_loss_and_a_shared_silence_are_none() -> None:
    left, right = conversation()
    assert losses(left, right) == ()
    assert losses(left, dead_from(right, 40.0, 55.0)) == ()
    assert losses(dead_from(left, 30.0, 70.0), dead_from(right, 30.0, 70.0)) == ()


def test_it_is_a_problem_with_its_place(tmp_path: Path) -> None:
    left, right = conversation()
    path = write(tmp_path / "a.wav", np.stack((left, dead_from(right, 40.0, SECONDS)), axis=1))
    findings = judge(measure(path), SPOKEN_INTERVIEW)
    (finding,) = [one for one in findings if one.code == "channel-lost"]
    assert (finding.standing, finding.channel, finding.unit) == ("problem", 1, "s")
    assert "at 0:40" in finding.volunteer
    assert "the right channel" in finding.volunteer
    assert "a channel that fell silent" in verdict(findings)[1]


def test_a_channel_that_is_dead_as_a_whole_is_told_once(tmp_path: Path) -> None:
    left, _ = conversation()
    path = write(tmp_path / "a.wav", np.stack((left, noise(SECONDS, -85.0, seed=3)), axis=1))
    codes = [one.code for one in judge(measure(path), SPOKEN_INTERVIEW)]
    assert "channel-dead" in codes
    assert "channel-lost" not in codes
