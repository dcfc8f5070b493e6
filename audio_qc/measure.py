"""Measures a file in one pass over its sound, and asks the judge for an opinion."""

import os
import time
from collections.abc import Callable
from dataclasses import dataclass
from itertools import chain
from typing import Any

import numpy as np

from audio_qc.errors import NoSound
from audio_qc.finding import Finding
from audio_qc.judge import judge
from audio_qc.measurement import Format, Measurement
from audio_qc.plain import to_plain
from audio_qc.profile import SPOKEN_INTERVIEW, Profile
from audio_qc.reading.ahead import read_ahead
from audio_qc.salvage import can_be_mended
from audio_qc.source import Source, open_source
from audio_qc.version import __version__

Progress = Callable[[float], None]
SECONDS_BETWEEN_PROGRESS = 0.4


@dataclass(frozen=True)
class Report:
    """The facts about a file and a profile's opinion of them."""

    measurement: Measurement
    findings: tuple[Finding, ...]

    def to_dict(self) -> dict[str, Any]:
        """Return JSON-ready data."""
        return {"measurement": self.measurement.to_dict(), "findings": to_plain(self.findings)}


def report(
    path: str | os.PathLike[str], profile: Profile = SPOKEN_INTERVIEW, *, progress: Progress | None = None
) -> Report:
    """Measure a file and judge it; raises a kind of Unreadable if there is nothing to measure."""
    measurement = measure(path, progress=progress)
    return Report(measurement, judge(measurement, profile))


def measure(path: str | os.PathLike[str], *, progress: Progress | None = None) -> Measurement:
    """Measure a file; `progress` is told the share done, 0 to 1, a few times a second.

    The whole recording is never held: memory does not grow with its length but for ten numbers a second.
    Raises a kind of Unreadable, with one plain sentence, for a file that cannot be measured.
    """
    source = open_source(path)
    try:
        return _measured(source, progress or _nobody)
    finally:
        source.close()


class Meters:
    """Every meter for one recording, in the order in which they see each block."""

    def __init__(self, rate_hz: int, channels: int) -> None:
        # Compiled code takes most of a second to import: a file that is refused never waits for it.
        from audio_qc.meters.channels import ChannelMeter  # noqa: PLC0415
        from audio_qc.meters.level import LevelMeter  # noqa: PLC0415
        from audio_qc.meters.loudness import LoudnessMeter  # noqa: PLC0415
        from audio_qc.meters.noise import NoiseFloorMeter  # noqa: PLC0415
        from audio_qc.meters.runs import RunMeter  # noqa: PLC0415
        from audio_qc.meters.truepeak import TruePeakMeter  # noqa: PLC0415
        from audio_qc.meters.waveform import WaveformMeter  # noqa: PLC0415

        self.levels = LevelMeter(channels)
        self.channels = ChannelMeter(channels, self.levels)
        self.loudness = LoudnessMeter(rate_hz, channels)
        self.true_peak = TruePeakMeter(rate_hz, channels)
        self.runs = RunMeter(rate_hz, channels)
        self.noise = NoiseFloorMeter(rate_hz, channels)
        self.waveform = WaveformMeter(channels)
        self._all = (
            self.levels, self.channels, self.loudness, self.true_peak, self.runs, self.noise, self.waveform
        )  # fmt: skip

    def add(self, block: np.ndarray) -> None:
        """Give every meter the next block."""
        for meter in self._all:
            meter.add(block)

    def results(self) -> dict[str, Any]:
        """Return the facts by the names that Measurement gives them; called once."""
        clipping, silence = self.runs.result()
        return {
            "levels": self.levels.result(),
            "channel_pairs": self.channels.result(),
            "loudness": self.loudness.result(),
            "true_peak": self.true_peak.result(),
            "clipping": clipping,
            "digital_silence": silence,
            "noise_floor": self.noise.result(),
            "waveform": self.waveform.result(),
        }


def _measured(source: Source, progress: Progress) -> Measurement:
    blocks = read_ahead(source.blocks())
    # The first sound is waited for before compiled code is loaded: a refusal must be quick.
    first = next(blocks, None)
    if first is None:
        raise NoSound("No sound could be read from this file: it is damaged from its first sample on.")
    meters = Meters(source.sample_rate_hz, source.channels)
    frames, told_at = 0, time.monotonic()
    for block in chain((first,), blocks):
        meters.add(block)
        frames += block.shape[1]
        if time.monotonic() - told_at >= SECONDS_BETWEEN_PROGRESS:
            told_at = time.monotonic()
            progress(source.share_of(frames))
    progress(1.0)
    return _assembled(source, meters)


def _assembled(source: Source, meters: Meters) -> Measurement:
    rate, frames = source.sample_rate_hz, source.frames_read
    return Measurement(
        measured_by=f"audio_qc {__version__}",
        format=Format(
            container=source.decoder.container,
            subtype=source.decoder.subtype,
            sample_rate_hz=rate,
            bits_per_sample=source.decoder.bits_per_sample,
            channels=source.channels,
            frames=frames,
            seconds=frames / rate,
            file_bytes=source.file_bytes,
        ),
        structure=source.structure(),
        salvageable=can_be_mended(source.structure()),
        marks=source.marks(),
        details=source.details(),
        **meters.results(),
    )


def _nobody(share: float) -> None:
    """Take the share done when nobody asked for it."""
