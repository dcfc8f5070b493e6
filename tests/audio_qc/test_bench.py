"""The benchmark's sound is the same every time and speech-like, and its table says what is met."""

import math
from pathlib import Path

import numpy as np
import soundfile
from rich.console import Console

from audio_qc import report, verdict
from audio_qc.bench import PIECE_S, RATE_HZ, Row, at_most, child, meter_rows, pieces, shown, taken, write_sound


def test_the_sound_is_the_same_every_time_and_never_twice_alike() -> None:
    first, second, *_ = list(pieces(1))
    again = next(pieces(1))
    assert np.array_equal(first, again)
    assert not np.array_equal(first, second)
    assert first.shape == (PIECE_S * RATE_HZ, 2)


def test_the_sound_has_a_voice_and_pauses_in_two_unlike_channels(tmp_path: Path) -> None:
    write_sound(tmp_path / "a.wav", 1, Console(quiet=True))
    result = report(tmp_path / "a.wav")
    facts = result.measurement
    assert verdict(result.findings)[0] == "good"
    assert (facts.format.subtype, facts.format.channels, facts.format.seconds) == ("PCM_24", 2, 60.0)
    assert facts.true_peak.true_peak_dbtp is not None
    assert -20.0 < facts.true_peak.true_peak_dbtp < -1.0
    assert facts.noise.noise_floor_dbfs is not None
    assert abs(facts.noise.noise_floor_dbfs + 62.0) < 3.0
    assert not facts.channel_pairs[0].identical
    assert facts.clipping.moments == 0


def test_each_thing_is_timed_in_a_process_of_its_own(tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    soundfile.write(path, next(pieces(1)), RATE_HZ, "PCM_24")
    for kind in ("decode", "report"):
        took = taken(kind, path, path)
        assert 0.0 < took.seconds < 60.0
        assert 0.0 <= took.memory_mb < 1000.0
    assert set(child("decode", path, path)) == {"seconds", "processor_s", "memory_mb"}


def test_every_meter_has_a_cost(tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    soundfile.write(path, next(pieces(1)), RATE_HZ, "PCM_24")
    rows = {row.title: float(row.value.split()[0]) for row in meter_rows(path)}
    assert {"loudness", "true_peak"} <= set(rows)
    assert math.isclose(rows.pop("all"), sum(rows.values()), abs_tol=0.001 * len(rows))


def test_a_target_is_met_or_missed() -> None:
    assert at_most("ratio", 2.5, " x", 3.0, 2.0) == Row("ratio", "2.50 x", "at most 3 x, aim 2 x", True)
    assert at_most("memory", 251.0, " MB", 250.0) == Row("memory", "251 MB", "at most 250 MB", False)
    console = Console(width=100)
    with console.capture() as captured:
        console.print(shown([at_most("memory", 251.0, " MB", 250.0)], "here"))
    assert "missed" in captured.get()
