"""Feeds meters and finds the reference recordings."""

import csv
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from audio_qc.meters import Meter
from audio_qc.meters.units import UnitStage

REFERENCE = Path(__file__).resolve().parents[3] / "shared" / "reference"
needs_reference = pytest.mark.skipif(not REFERENCE.is_dir(), reason="the reference recordings are not on this machine")


def metered(meter: Meter, samples: np.ndarray, block_frames: int = 32_768) -> Any:
    """Give a meter samples of shape (frames,) or (frames, channels) in blocks and return its result."""
    planar = np.ascontiguousarray(np.atleast_2d(samples.T))
    for start in range(0, planar.shape[1], block_frames):
        meter.add(np.ascontiguousarray(planar[:, start : start + block_frames]))
    return meter.result()


def metered_by_units(meter: Any, samples: np.ndarray, rate_hz: int = 48_000) -> Any:
    """Give a meter that works on units samples as `metered` does."""
    planar = np.ascontiguousarray(np.atleast_2d(samples.T))
    stage = UnitStage(rate_hz, len(planar), (meter,))
    for start in range(0, planar.shape[1], 10_000):
        stage.add(np.ascontiguousarray(planar[:, start : start + 10_000]))
    stage.finish()
    return meter.result()


def files(folder: str) -> list[str]:
    """Return the names of the reference recordings in a folder, none where the reference is missing."""
    return sorted(path.name for path in (REFERENCE / folder).glob("*.*"))


def readings() -> dict[str, dict[str, str]]:
    """Return the independent readings, by file."""
    with (REFERENCE / "reference.tsv").open(newline="", encoding="utf-8") as table:
        return {row["file"]: row for row in csv.DictReader(table, delimiter="\t")}
