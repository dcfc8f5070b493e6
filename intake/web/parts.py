"""The parts of an interview as its pages show them: what has arrived, what was measured, what may be played."""

from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

from django.db.models import Prefetch, Q, prefetch_related_objects
from django.urls import reverse
from django.utils import timezone

from intake.access.policy import Act
from intake.accounts.models import User
from intake.files.models import Upload, UploadState
from intake.files.services import is_safe
from intake.interviews.models import Interview, Mark, Part
from intake.interviews.services import parts_of
from intake.jobs.models import Job, JobState, Kind
from intake.outputs.models import Output, OutputKind
from intake.qc.models import QCReport
from intake.qc.sequence import Join, joins, other_settings
from intake.qc.services import latest_report, may_be_cleared
from intake.releases.passages import closed_passages
from intake.web.copies import kept_in_words
from intake.web.notices import Notice, clock_notices, same_recordings
from intake.web.permits import why_not_permitted
from intake.web.words import timecode

# A piece of 16 MiB takes two minutes at 140 kB/s; slower than that, a page has to be reloaded to see more.
STALLED_AFTER = timedelta(minutes=2)

# The worst first.
TOLD = ("problem", "look closer", "note")


@dataclass(frozen=True)
class PartRow:
    """One part with everything its row shows.

    `share` is the share done (0 to 1) of what is going on, if that is known. `follows` says how it follows the part
    before it, where that is as it should be; `why_not` why this person may not hear it now.
    """

    part: Part
    now: str
    share: float | None
    is_pending: bool
    is_safe: bool
    report: QCReport | None
    has_listening_copy: bool
    audio_url: str
    findings: list[dict[str, Any]] = field(default_factory=list)
    notices: list[Notice] = field(default_factory=list)
    follows: str = ""
    why_not: str = ""

    @property
    def is_doubtful(self) -> bool:
        return self.report is not None and self.report.is_doubtful

    @property
    def may_be_cleared(self) -> bool:
        return may_be_cleared(self.part.file)

    @property
    def kept(self) -> str:
        """How the copies of its file stand, in a sentence."""
        return kept_in_words(self.part.file) if self.part.file else ""

    @property
    def is_sound(self) -> bool:
        """False once somebody has looked and found nothing that can be heard."""
        return self.report is None or not self.report.unreadable

    @property
    def percent(self) -> int | None:
        return None if self.share is None else int(self.share * 100)

    @property
    def seconds(self) -> float | None:
        measured = self.report and self.report.measurement
        return measured["format"]["seconds"] if measured else None

    @property
    def channels(self) -> int:
        """How many channels were measured; 0 before."""
        measured = self.report and self.report.measurement
        return measured["format"]["channels"] if measured else 0

    @property
    def format(self) -> str:
        return self.report.format_in_words if self.report else ""

    @property
    def worth_telling(self) -> list[dict[str, Any]]:
        """The findings that say something, the worst first; what is good or not measured stands in the table."""
        return [finding for standing in TOLD for finding in self.findings if finding["standing"] == standing]

    @property
    def peaks_id(self) -> str:
        return f"peaks-{self.part.pk}"

    @property
    def flags_id(self) -> str:
        return f"flags-{self.part.pk}"

    @property
    def strip(self) -> dict[str, Any] | None:
        if self.seconds is None:
            return None
        return {
            "audio_url": self.audio_url,
            "seconds": self.seconds,
            "peaks_id": self.peaks_id,
            "flags_id": self.flags_id,
        }

    @property
    def waveform(self) -> dict[str, Any] | None:
        """What the sound strip draws; None if nothing could be measured."""
        if not (self.report and self.report.measurement and self.report.series):
            return None
        return {
            **self.report.series["waveform"],
            "sample_rate_hz": self.report.measurement["format"]["sample_rate_hz"],
        }

    @property
    def flags(self) -> list[dict[str, Any]]:
        """Findings and the recorder's marks, placed in time."""
        placed = [
            {**span, "label": finding["title"], "standing": finding["standing"], "kind": "finding"}
            for finding in self.findings
            for span in finding["spans"]
        ]
        return placed + self.marks + self.closed

    @property
    def closed(self) -> list[dict[str, Any]]:
        """Stretches that are silent in every copy that leaves."""
        return [
            {
                "start_s": passage.from_seconds,
                "end_s": passage.to_seconds,
                "label": "Closed passage",
                "standing": "closed",
                "kind": "passage",
            }
            for passage in closed_passages(self.part)
        ]

    @property
    def marks(self) -> list[dict[str, Any]]:
        """Points and stretches that were marked on the recorder; what staff note stays with them."""
        return [
            {
                "start_s": mark.at_seconds,
                "end_s": mark.at_seconds + mark.length_seconds,
                "label": ": ".join(filter(None, [str(mark), mark.note])),
                "standing": "",
                "kind": "mark",
            }
            for mark in self.part.marks.all()
            if mark.kind == Mark.Kind.RECORDER
        ]


def part_rows(interview: Interview, *, listen: str, user: User, drawn: bool) -> list[PartRow]:
    """A row for each part in order. `listen` names the route of this audience's listening copies.

    Only where the sound strips are `drawn` is fetched what they are drawn from.
    """
    return _rows(parts_of(interview), listen, user, drawn=drawn)


def part_row(part: Part, *, listen: str, user: User) -> PartRow:
    """The row of one part, with its sound strip."""
    return _rows([part], listen, user, drawn=True)[0]


def _rows(parts: list[Part], listen: str, user: User, *, drawn: bool) -> list[PartRow]:
    reports = QCReport.objects.defer(None) if drawn else QCReport.objects.all()
    prefetch_related_objects(
        parts,
        Prefetch("file__qc_reports", queryset=reports),
        "file__qc_reports__answers__answered_by",
        "marks",
        "closed_passages",
    )
    ids = [str(part.pk) for part in parts]
    about_parts = Q(kind__in=[Kind.MEASURE_PART, Kind.MAKE_LISTENING_COPY], subject_id__in=ids)
    about_uploads = Q(kind=Kind.STORE_UPLOAD, subject_id__in=[str(part.upload_id) for part in parts])
    jobs = {(job.kind, job.subject_id): job for job in Job.objects.filter(about_parts | about_uploads).order_by("id")}
    made = Output.objects.filter(kind=OutputKind.LISTENING_COPY, subject_id__in=ids)
    copies = set(made.values_list("subject_id", flat=True))
    settings, follow = other_settings(parts), joins(parts)
    why_not = why_not_permitted(user, Act.HEAR, parts[0].interview) if parts else ""
    same = same_recordings(parts, user=user, audience=listen.partition(":")[0])
    return [
        _row(
            part,
            jobs,
            [*same.get(part.pk, []), *_odd(settings.get(part.pk), follow.get(part.pk))],
            follows=_told(follow.get(part.pk)),
            has_listening_copy=str(part.pk) in copies,
            listen=listen,
            why_not=why_not,
        )
        for part in parts
    ]


def _odd(settings: str | None, join: Join | None) -> list[Notice]:
    """What somebody should look at in how a part follows the others."""
    return [Notice(sentence) for sentence in (settings, join.sentence if join and join.is_odd else None) if sentence]


def _told(join: Join | None) -> str:
    return join.sentence if join and not join.is_odd else ""


def _row(
    part: Part,
    jobs: dict[tuple[str, str], Job],
    notices: list[Notice],
    *,
    follows: str,
    has_listening_copy: bool,
    listen: str,
    why_not: str,
) -> PartRow:
    report = latest_report(part.file)
    now, share, is_pending = _going_on(part, report, jobs)
    copying = jobs.get((Kind.MAKE_LISTENING_COPY, str(part.pk)))
    return PartRow(
        part=part,
        now=now,
        share=share,
        is_pending=is_pending or bool(copying and copying.state in {JobState.WAITING, JobState.RUNNING}),
        is_safe=part.file is not None and is_safe(part.file),
        report=report,
        has_listening_copy=has_listening_copy,
        audio_url=reverse(listen, args=[part.pk]),
        findings=[_with_timecodes(finding) for finding in report.findings] if report else [],
        follows=follows,
        why_not=why_not,
        notices=[*notices, *clock_notices(part, report, audience=listen.partition(":")[0])],
    )


def _going_on(part: Part, report: QCReport | None, jobs: dict[tuple[str, str], Job]) -> tuple[str, float | None, bool]:
    """What is happening to a part, in words; the share done if known; and whether it will change by itself."""
    upload = part.upload
    if upload.state == UploadState.RECEIVING:
        return on_its_way(upload)
    if upload.state == UploadState.RECEIVED:
        return being_stored(jobs.get((Kind.STORE_UPLOAD, str(upload.pk))))
    if upload.state == UploadState.DAMAGED:
        return (
            "It arrived damaged. Your recorder's card still holds it: take this part out and hand it in again.",
            None,
            False,
        )
    if upload.state == UploadState.EXPIRED:
        return "It was not gone on with in time. Take this part out and hand the file in again.", None, False
    if report:
        return "", None, False
    job = jobs.get((Kind.MEASURE_PART, str(part.pk)))
    if job and job.state == JobState.FAILED:
        return "Stored safely. Measuring did not work; the library sees this and can try again.", None, False
    return "Stored safely. Being measured", job.progress if job else None, True


def being_stored(job: Job | None) -> tuple[str, float | None, bool]:
    if job and job.state == JobState.FAILED:
        return "It arrived, but storing it did not work. The library sees this and can try again.", None, False
    return "Comparing with the file on your computer, and storing two copies", job.progress if job else None, True


def on_its_way(upload: Upload) -> tuple[str, float | None, bool]:
    """Whether bytes are coming in just now, or somebody has to go on with it."""
    is_moving = timezone.now() - (upload.last_piece_at or upload.started_at) < STALLED_AFTER
    if is_moving:
        told = "On its way"
    elif upload.offset == upload.length:
        told = "All of it is here. Choose the same file again to finish the comparison"
    else:
        told = "Not finished. Choose the same file again to go on where it stopped"
    return told, upload.offset / upload.length, is_moving


def _with_timecodes(finding: dict[str, Any]) -> dict[str, Any]:
    spans = [
        {**span, "start_label": timecode(span["start_s"]), "end_label": timecode(span["end_s"])}
        for span in finding["spans"]
    ]
    return {**finding, "spans": spans}
