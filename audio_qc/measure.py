"""Measures a file in one pass over its sound, and asks the judge for an opinion."""

import os
import time
from collections.abc import Callable
from dataclasses import dataclass
from itertools import chain
from typing import Any

from audio_qc.digest import FileDigest
from audio_qc.errors import NoSound
from audio_qc.facts.file import Format
from audio_qc.finding import Finding
from audio_qc.judge import judge
from audio_qc.lanes import run_lanes
from audio_qc.measurement import Measurement
from audio_qc.plain import from_plain, to_plain
from audio_qc.profile import SPOKEN_INTERVIEW, Profile
from audio_qc.salvage import can_be_mended
from audio_qc.samples import SamplesDigest
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


def _measured(source: Source, progress: Progress) -> Measurement:
    blocks = source.blocks()
    # The first sound is waited for before compiled code is loaded: a refusal must be quick.
    first = next(blocks, None)
    if first is None:
        raise NoSound("No sound could be read from this file: it is damaged from its first sample on.")
    # It takes most of a second to import.
    from audio_qc.meters.together import Meters  # noqa: PLC0415

    meters = Meters(source.sample_rate_hz, source.channels, source.decoder.subtype)
    digest, samples = FileDigest(source), SamplesDigest(source)
    progress(0.0)
    frames, told_at = 0, time.monotonic()

    def told(more: int) -> None:
        nonlocal frames, told_at
        frames += more
        if time.monotonic() - told_at >= SECONDS_BETWEEN_PROGRESS:
            told_at = time.monotonic()
            progress(source.share_of(frames))

    run_lanes(chain((first,), blocks), (digest, samples, *meters.here), meters.beside, told)
    progress(1.0)
    return _assembled(source, digest.result(), samples.result(), meters.results())


def _assembled(source: Source, sha256: str, samples_sha256: str, results: dict[str, Any]) -> Measurement:
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
            sha256=sha256,
            samples_sha256=samples_sha256,
        ),
        structure=source.structure(),
        salvageable=can_be_mended(source.structure()),
        marks=source.marks(),
        details=source.details(),
        **results,
    )


def _nobody(share: float) -> None:
    """Take the share done when nobody asked for it."""
