"""Measure a part and keep the report; the only module that knows audio_qc."""

from collections.abc import Callable
from typing import Any

from django.db import transaction

import audio_qc
from intake.audit.actions import Action
from intake.audit.models import Outcome
from intake.audit.services import record
from intake.files import storage
from intake.files.models import StoredFile
from intake.files.services import is_proven, is_safe
from intake.interviews.models import Part
from intake.jobs.models import Kind
from intake.jobs.services import enqueue
from intake.qc.models import QCReport

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


def may_be_cleared(file: StoredFile | None) -> bool:
    """Whether the card may lose it: two copies match the volunteer's file, which was looked at and is whole."""
    report = latest_report(file)
    if file is None or report is None:
        return False
    return is_safe(file) and is_proven(file) and not report.is_doubtful


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
