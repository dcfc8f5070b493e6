"""Which stored files belong to what, and who hears when copies of them are bad."""

from django.db import transaction
from django.db.models import Q, QuerySet
from django.utils import timezone

from intake.accounts.services import coordinators
from intake.errors import Refused
from intake.files.models import Incident, StoredFile
from intake.interviews.models import Attachment, Interview, Part
from intake.jobs.models import Kind
from intake.jobs.services import enqueue
from intake.mail import services as mail
from intake.outputs.models import OF_A_PART, Output
from intake.outputs.services import site_url
from intake.releases.models import Scan

EVERYTHING = "everything"
TOLD_AT_ONCE = 200
NAMED_IN_A_LETTER = 20


def about_interview(interview: Interview) -> str:
    return f"interviews.interview:{interview.pk}"


def about_part(part: Part) -> str:
    return f"interviews.part:{part.pk}"


def files_about(about: str) -> QuerySet[StoredFile]:
    """The stored files of one thing, "label:id", or all. Raises Refused for what has no files."""
    label, _, pk = about.partition(":")
    if about == EVERYTHING:
        return StoredFile.objects.all()
    if label == "files.storedfile":
        return StoredFile.objects.filter(pk=pk)
    if label == "interviews.part":
        of_part = Q(subject_id=pk) | Q(subject_id__endswith=f"/{pk}")
        copies = Output.objects.filter(of_part, kind__in=OF_A_PART).values("file")
        return StoredFile.objects.filter(Q(pk__in=Part.objects.filter(pk=pk).values("file")) | Q(pk__in=copies))
    if label == "interviews.interview":
        return StoredFile.objects.filter(_of_interview(int(pk)))
    raise Refused(f"There are no stored files about “{about}”.")


def interviews_of(file: StoredFile) -> list[Interview]:
    """The interviews that this file is a recording of."""
    return list(Interview.objects.filter(parts__file=file, parts__position__isnull=False).distinct())


@transaction.atomic
def tell_coordinators() -> int:
    """Write to every coordinator, once, of all incidents that nobody was told of; returns how many those were."""
    untold = list(
        Incident.objects.select_for_update(of=("self",))
        .select_related("file")
        .filter(notified_at=None)
        .order_by("pk")[:TOLD_AT_ONCE]
    )
    if not untold:
        return 0
    lines = [_line(incident) for incident in untold]
    for coordinator in coordinators():
        mail.write(
            key=f"incidents-{untold[0].pk}-{untold[-1].pk}-{coordinator.pk}",
            to=coordinator.email,
            template="bad_copies",
            context={
                "name": coordinator.name,
                "count": len(untold),
                "lines": lines[:NAMED_IN_A_LETTER],
                "more": max(len(untold) - NAMED_IN_A_LETTER, 0),
                "is_open": any(incident.closed_at is None for incident in untold),
                "url": site_url("desk:copies"),
            },
        )
    Incident.objects.filter(pk__in=[incident.pk for incident in untold]).update(notified_at=timezone.now())
    tell_volunteers([incident.file for incident in untold if incident.file])
    return len(untold)


def tell_volunteers(files: list[StoredFile]) -> None:
    """Look again at what the volunteers of these recordings were told about their cards."""
    for file in files:
        for interview in interviews_of(file):
            enqueue(Kind.TELL_CARD, interview.pk)


def _line(incident: Incident) -> str:
    what = f"“{incident.file.name}”: " if incident.file else ""
    return f"{what}{incident.told} Now: {incident.get_state_display()}."


def _of_interview(pk: int) -> Q:
    handed_in = Q(pk__in=Part.objects.filter(interview=pk).values("file"))
    handed_in |= Q(pk__in=Attachment.objects.filter(interview=pk).values("file"))
    handed_in |= Q(pk__in=Scan.objects.filter(signed_form__form__participant__interview=pk).values("file"))
    return handed_in | Q(pk__in=Output.objects.filter(interview=pk).values("file"))
