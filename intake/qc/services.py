"""Measure a part and keep the report; the only module that knows audio_qc."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

from django.db import transaction

import audio_qc
from audio_qc import Texts
from intake.audit.actions import Action
from intake.audit.models import Outcome
from intake.audit.services import record
from intake.files import storage
from intake.files.models import StoredFile
from intake.files.services import is_proven, is_safe
from intake.interviews import services as interviews
from intake.interviews.models import Part
from intake.interviews.services import Marked
from intake.jobs.models import Kind
from intake.jobs.services import enqueue
from intake.qc.models import QCReport


class NotTheSameSound(Exception):
    """A copy does not hold the samples of its original; it is not kept."""


PROFILE = audio_qc.SPOKEN_INTERVIEW
VERSION: dict[str, Any] = {"audio_qc_version": audio_qc.__version__, "profile": f"{PROFILE.name} {PROFILE.version}"}


def measure_part(part_id: int, progress: Callable[[float], None]) -> QCReport:
    """Run audio_qc over a part's file, unless this version and profile have done so before.

    A file that cannot be read gets a report that says why.
    """
    part = Part.objects.select_related("file", "interview").get(pk=part_id)
    assert part.file is not None, "the job is enqueued when the file has been stored"
    known = QCReport.objects.filter(file=part.file, **VERSION).first()
    return known or _keep(part, _look_at(part.file, progress))


def latest_report(file: StoredFile | None) -> QCReport | None:
    """The newest report on a file. Uses prefetched reports where there are any."""
    return max(file.qc_reports.all(), key=lambda report: report.pk, default=None) if file else None


def sound_digest(file: StoredFile | None) -> str:
    """The digest of a file's decoded sound; empty while it is not measured, and where it cannot be."""
    report = latest_report(file)
    return report.samples_sha256 if report else ""


def are_twins(one: Part, other: Part) -> bool:
    """Whether two parts hold the same recording, byte for byte or sample for sample."""
    if one.pk == other.pk or one.file is None or other.file is None:
        return False
    sound = sound_digest(one.file)
    return one.file.sha256 == other.file.sha256 or bool(sound and sound == sound_digest(other.file))


def may_be_cleared(file: StoredFile | None) -> bool:
    """Whether the card may lose it: two copies match the volunteer's file, which was looked at and is whole."""
    report = latest_report(file)
    if file is None or report is None:
        return False
    return is_safe(file) and is_proven(file) and not report.is_doubtful


def describe(source: Path, target: Path, report: QCReport, *, texts: Texts) -> str:
    """Write a described copy of a file to `target`; empty, or why there is none, in a sentence.

    Its samples are decoded again and must be those that were measured. Raises NotTheSameSound.
    """
    assert report.measurement is not None, "only what was measured is described"
    try:
        audio_qc.describe(source, target, texts, loudness=_loudness(report.measurement))
    except audio_qc.NotDescribed as error:
        return str(error)
    if audio_qc.samples_digest(target) != report.samples_sha256:
        raise NotTheSameSound(str(source))
    return ""


def draw(source: Path, target: Path, report: QCReport, progress: Callable[[float], None]) -> None:
    """Write the sound picture of a measured file to `target`. Raises audio_qc's errors where it cannot be read."""
    curve = (report.series or {}).get("loudness_curve")
    audio_qc.draw_picture(
        source, target, loudness=audio_qc.LoudnessCurve(**curve) if curve else None, progress=progress
    )


def _loudness(measured: dict[str, Any]) -> audio_qc.Loudness:
    loudness = measured["loudness"]
    return audio_qc.Loudness(
        integrated_lufs=loudness["integrated_lufs"],
        range_lu=loudness["loudness_range_lu"],
        true_peak_dbtp=measured["true_peak"]["true_peak_dbtp"],
        max_momentary_lufs=loudness["max_momentary_lufs"],
        max_short_term_lufs=loudness["max_short_term_lufs"],
    )


def _look_at(file: StoredFile, progress: Callable[[float], None]) -> dict[str, Any]:
    try:
        with storage.local_path(file.key) as path:
            report = audio_qc.report(path, PROFILE, progress=progress)
    except audio_qc.AudioQCError as error:
        return {
            "unreadable": str(error),
            "standing": "problem",
            "verdict": str(error),
            "findings": [_unreadable(error)],
        }
    standing, verdict = audio_qc.verdict(report.findings)
    measurement = report.measurement.to_dict()
    return {
        "series": _taken_out(measurement),
        "measurement": measurement,
        "samples_sha256": report.measurement.format.samples_sha256,
        "findings": [finding.to_dict() for finding in report.findings],
        "standing": standing,
        "verdict": verdict,
    }


def _taken_out(measurement: dict[str, Any]) -> dict[str, Any]:
    """Take out of a measurement what is drawn and not read."""
    drawn = {name: measurement.pop(name) for name in ("waveform", "spectrum", "level_histogram")}
    return {**drawn, "loudness_curve": measurement["loudness"].pop("curve")}


def _keep(part: Part, facts: dict[str, Any]) -> QCReport:
    """Two workers may both have measured: the constraint keeps one report, and one event tells of it."""
    with transaction.atomic():
        report, new = QCReport.objects.get_or_create(file=part.file, **VERSION, defaults=facts)
        if new:
            interviews.note_marks(part, _marks(report.measurement) if report.measurement else [])
            enqueue(Kind.TELL_CARD, part.interview_id)
            outcome = Outcome.FAILURE if report.unreadable else Outcome.SUCCESS
            record(
                actor=None,
                action=Action.PART_MEASURED,
                subject=part,
                thread=part.interview,
                outcome=outcome,
                standing=report.standing,
                **VERSION,
            )
    return report


def _marks(measurement: dict[str, Any]) -> list[Marked]:
    """Those that the recorder stored in the file."""
    rate_hz = measurement["format"]["sample_rate_hz"]
    return [
        Marked(mark["at_seconds"], mark["length_frames"] / rate_hz, mark["label"], mark["note"])
        for mark in measurement["marks"]
    ]


def _unreadable(error: audio_qc.AudioQCError) -> dict[str, Any]:
    """A file that holds no sound we can read is itself a finding, to be answered like any other."""
    return {
        "code": "unreadable",
        "measure": "structure",
        "title": "Readable sound",
        "standing": "problem",
        "value": None,
        "unit": "",
        "limit": "a sound file that can be read",
        "source": "common practice, no source",
        "volunteer": f"We could not read sound in this file. {error}",
        "archivist": f"The file could not be decoded: {error}",
        "spans": [],
        "channel": None,
        "reason": str(error),
    }
