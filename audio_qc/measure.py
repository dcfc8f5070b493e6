"""Measures a file in one pass over its sound, and asks the judge for an opinion."""

import hashlib
import math
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
from audio_qc.lanes import Taker, run_lanes
from audio_qc.measurement import Format, Measurement
from audio_qc.plain import from_plain, to_plain
from audio_qc.profile import SPOKEN_INTERVIEW, Profile
from audio_qc.salvage import can_be_mended
from audio_qc.source import Source, open_source
from audio_qc.version import __version__

Progress = Callable[[float], None]
SECONDS_BETWEEN_PROGRESS = 0.4
LARGEST_READ = 1_048_576  # bytes


@dataclass(frozen=True)
class Report:
    """The facts about a file and a profile's opinion of them."""

    measurement: Measurement
    findings: tuple[Finding, ...]

    def to_dict(self) -> dict[str, Any]:
        """Return JSON-ready data."""
        return {"measurement": self.measurement.to_dict(), "findings": to_plain(self.findings)}

    @classmethod
    def from_dict(cls, data: dict[str, Any]) -> "Report":
        """Rebuild what `to_dict` wrote; raises StoredDataError for another schema or a damaged record."""
        findings = from_plain(tuple[Finding, ...], data.get("findings"))
        return cls(Measurement.from_dict(data.get("measurement") or {}), findings)


def report(
    path: str | os.PathLike[str], profile: Profile = SPOKEN_INTERVIEW, *, progress: Progress | None = None
) -> Report:
    """Measure a file and judge it; raises a kind of Unreadable if there is nothing to measure."""
    measurement = measure(path, progress=progress)
    return Report(measurement, judge(measurement, profile))


def measure(path: str | os.PathLike[str], *, progress: Progress | None = None) -> Measurement:
    """Measure a file; `progress` is told the share done a few times a second: 0 once the file is open, 1 at the end.

    The whole recording is never held: memory does not grow with its length but for ten numbers a second.
    Raises a kind of Unreadable, with one plain sentence, for a file that cannot be measured.
    """
    source = open_source(path)
    try:
        return _measured(source, progress or _nobody)
    finally:
        source.close()


class Meters:
    """Every meter for one recording, in lanes that measure side by side."""

    def __init__(self, rate_hz: int, channels: int, subtype: str) -> None:
        # Compiled code takes most of a second to import: a file that is refused never waits for it.
        from audio_qc.meters.channels import ChannelMeter  # noqa: PLC0415
        from audio_qc.meters.level import LevelMeter  # noqa: PLC0415
        from audio_qc.meters.loudness import LoudnessMeter  # noqa: PLC0415
        from audio_qc.meters.lowband import LowBandMeter  # noqa: PLC0415
        from audio_qc.meters.resolution import ResolutionMeter  # noqa: PLC0415
        from audio_qc.meters.samples import SampleMeter  # noqa: PLC0415
        from audio_qc.meters.slices import SliceMeter  # noqa: PLC0415
        from audio_qc.meters.spectrum import SpectrumMeter  # noqa: PLC0415
        from audio_qc.meters.speech import SpeechMeter  # noqa: PLC0415
        from audio_qc.meters.truepeak import TruePeakMeter  # noqa: PLC0415
        from audio_qc.meters.units import UnitStage  # noqa: PLC0415
        from audio_qc.meters.waveform import WaveformMeter  # noqa: PLC0415

        self._rate_hz = rate_hz
        self.levels = LevelMeter(channels)
        self.waveform = WaveformMeter(rate_hz, channels)
        self.speech = SpeechMeter(rate_hz, channels)
        self.slices = SliceMeter(rate_hz, channels)
        self.units = UnitStage(rate_hz, channels, (self.levels, self.waveform, self.speech, self.slices))
        self.spectrum = SpectrumMeter(rate_hz, channels, self.slices)
        self.channels = ChannelMeter(channels, self.levels)
        self.loudness = LoudnessMeter(rate_hz, channels)
        self.true_peak = TruePeakMeter(rate_hz, channels)
        self.samples = SampleMeter(rate_hz, channels)
        self.resolution = ResolutionMeter(subtype)
        self.low_band = LowBandMeter(rate_hz, channels)
        # The spectrum stands behind the units, whose levels it uses.
        self.lanes: tuple[tuple[Taker, ...], ...] = (
            (self.loudness, self.low_band),
            (self.units, self.spectrum, self.channels),
            (self.true_peak, self.samples, self.resolution),
        )  # fmt: skip

    def add(self, block: np.ndarray) -> None:
        """Give every meter the next block, one after the other."""
        for lane in self.lanes:
            for meter in lane:
                meter.add(block)

    def results(self) -> dict[str, Any]:
        """Return the facts by the names that Measurement gives them; called once."""
        # Late for the reason given above.
        from audio_qc.meters.bandwidth import bandwidth_facts  # noqa: PLC0415
        from audio_qc.meters.noise import find_pauses, noise_facts, speech_facts  # noqa: PLC0415
        from audio_qc.meters.silence import level_histogram, long_silence  # noqa: PLC0415
        from audio_qc.meters.spectrum import spectrum_facts  # noqa: PLC0415

        self.units.finish()
        self.spectrum.finish()
        clipping, flat_tops, dropouts, silence = self.samples.result()
        hum, rumble = self.low_band.result()
        pauses = find_pauses(self.slices)
        noise = noise_facts(self.slices, self.spectrum, pauses)
        return {
            "levels": self.levels.result(),
            "channel_pairs": self.channels.result(),
            "loudness": self.loudness.result(),
            "true_peak": self.true_peak.result(),
            "clipping": clipping,
            "flat_tops": flat_tops,
            "dropouts": dropouts,
            "resolution": self.resolution.result(),
            "digital_silence": silence,
            "hum": hum,
            "rumble": rumble,
            "bandwidth": bandwidth_facts(self.spectrum, pauses.highest_db),
            "speech": speech_facts(self.speech.result(), noise, self.spectrum),
            "noise": noise,
            "long_silence": long_silence(self.slices, pauses, self._rate_hz, self.levels.frames),
            "level_histogram": level_histogram(self.slices),
            "spectrum": spectrum_facts(self.spectrum, pauses.highest_db),
            "waveform": self.waveform.result(),
        }


class FileDigest:
    """SHA-256 of the file itself, worked on in step with the sound, while the bytes are still in memory."""

    def __init__(self, source: Source) -> None:
        self._source = source
        self._digest = hashlib.sha256()
        self._offset = 0

    def add(self, block: np.ndarray) -> None:
        """Hash as large a share of the file as the block is of the recording, or a megabyte if that is not known."""
        share = math.ceil(self._source.share_of(block.shape[1]) * self._source.file_bytes)
        self._read(self._offset + (share or LARGEST_READ))

    def result(self) -> str:
        """Hash what is left and return the digest in hexadecimal."""
        self._read(self._source.file_bytes)
        return self._digest.hexdigest()

    def _read(self, until: int) -> None:
        while wanted := max(0, min(LARGEST_READ, until - self._offset)):
            piece = os.pread(self._source.file.fileno(), wanted, self._offset)
            if not piece:
                return
            self._digest.update(piece)
            self._offset += len(piece)


def _measured(source: Source, progress: Progress) -> Measurement:
    blocks = source.blocks()
    # The first sound is waited for before compiled code is loaded: a refusal must be quick.
    first = next(blocks, None)
    if first is None:
        raise NoSound("No sound could be read from this file: it is damaged from its first sample on.")
    meters = Meters(source.sample_rate_hz, source.channels, source.decoder.subtype)
    digest = FileDigest(source)
    progress(0.0)
    frames, told_at = 0, time.monotonic()

    def told(more: int) -> None:
        nonlocal frames, told_at
        frames += more
        if time.monotonic() - told_at >= SECONDS_BETWEEN_PROGRESS:
            told_at = time.monotonic()
            progress(source.share_of(frames))

    run_lanes(chain((first,), blocks), (*meters.lanes, (digest,)), told)
    progress(1.0)
    return _assembled(source, meters, digest)


def _assembled(source: Source, meters: Meters, digest: FileDigest) -> Measurement:
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
            sha256=digest.result(),
        ),
        structure=source.structure(),
        salvageable=can_be_mended(source.structure()),
        marks=source.marks(),
        details=source.details(),
        **meters.results(),
    )


def _nobody(share: float) -> None:
    """Take the share done when nobody asked for it."""
