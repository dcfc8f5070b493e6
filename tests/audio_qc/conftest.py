"""A good recording to start from."""

from pathlib import Path

import pytest

from audio_qc import Measurement, measure
from tests.signals import noise, steps, stereo, write


@pytest.fixture(scope="session")
def good_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a WAV at 48 kHz and 24 bits with two unlike channels, peaks at -8 dBFS and pauses at -75 dBFS."""
    voice = steps([(0.5, -19.0), (0.04, -8.0), (0.46, None)] * 6, hz=330.0)
    left, right = voice + noise(6, -75.0, seed=1), 0.8 * voice + noise(6, -30.0, seed=2) * (voice != 0)
    return write(tmp_path_factory.mktemp("good") / "part.wav", stereo(left, right + noise(6, -75.0, seed=3)))


@pytest.fixture(scope="session")
def good(good_file: Path) -> Measurement:
    return measure(good_file)
