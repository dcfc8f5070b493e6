"""What the desk's page "Copies" shows."""

from dataclasses import dataclass

from django.urls import reverse
from django.utils import formats, timezone

from intake.files import audits, listings
from intake.files.audits import Forecast
from intake.files.models import Audit, Incident, UnexpectedObject, Why
from intake.interviews.models import Part
from intake.jobs.models import Job, JobState, Kind

LATELY = 20


@dataclass(frozen=True)
class AuditRow:
    audit: Audit
    what: str
    url: str
    percent: float | None


@dataclass(frozen=True)
class UnexpectedRow:
    found: UnexpectedObject
    may_be_set_aside: bool


@dataclass(frozen=True)
class CopiesPage:
    forecast: Forecast
    open_incidents: list[Incident]
    closed_incidents: list[Incident]
    audits: list[AuditRow]
    unexpected: list[UnexpectedRow]

    @property
    def speed(self) -> int:
        """Bytes a second, whole."""
        return int(self.forecast.bytes_a_second or 0)


def copies_page() -> CopiesPage:
    incidents = Incident.objects.select_related("file").order_by("-pk")
    running = {
        job.subject_id: job.progress
        for job in Job.objects.filter(kind__in=[Kind.AUDIT_COPIES, Kind.CHECK_COPIES], state=JobState.RUNNING)
    }
    return CopiesPage(
        forecast=audits.forecast(timezone.now()),
        open_incidents=list(incidents.filter(closed_at=None)[:200]),
        closed_incidents=list(incidents.exclude(closed_at=None)[:LATELY]),
        audits=[_row(audit, running) for audit in Audit.objects.select_related("by")[:LATELY]],
        unexpected=[UnexpectedRow(found, listings.may_be_set_aside(found)) for found in listings.unexpected()],
    )


def _row(audit: Audit, running: dict[str, float | None]) -> AuditRow:
    label, _, pk = audit.about.partition(":")
    share = running.get(pk if audit.why == Why.SCHEDULE else str(audit.pk))
    what, url = audit.about, ""
    if audit.why == Why.SCHEDULE:
        what = f"The night of {formats.date_format(audit.started_at)}"
    elif label == "interviews.interview":
        what, url = "An interview", reverse("desk:interview-detail", args=[pk])
    elif label == "interviews.part":
        part = Part.objects.select_related("upload").get(pk=pk)
        what, url = f"A part: {part.upload.name}", reverse("desk:interview-detail", args=[part.interview_id])
    elif label == "store":
        what = f"The {pk} store, filled again"
    elif label == "files.storedfile":
        what = "A file whose copy was missing when somebody wanted it"
    elif label == "everything":
        what = "All stored files"
    return AuditRow(audit, what, url, None if share is None else share * 100)
