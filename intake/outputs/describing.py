"""What may be said of accepted interviews outside the house, gathered for the records; withheld names are left out."""

from collections.abc import Iterable, Iterator
from datetime import date

from django.db.models import Prefetch, QuerySet
from django.utils import timezone

from intake.interviews.models import Interview, Part, Participant
from intake.library import services as libraries
from intake.outputs.naming import WITHHELD, devised_title
from intake.outputs.records.described import Described, Role, Somebody, SoundFile
from intake.qc.services import latest_report
from intake.register.models import Accession
from intake.releases.models import Access, Licence, Release
from intake.releases.restrictions import Restriction

ROLES = {
    Participant.Role.NARRATOR: Role.NARRATOR,
    Participant.Role.INTERVIEWER: Role.INTERVIEWER,
    Participant.Role.INTERPRETER: Role.INTERPRETER,
}
LICENCES = {
    Licence.CC_BY: "https://creativecommons.org/licenses/by/4.0/",
    Licence.CC_BY_SA: "https://creativecommons.org/licenses/by-sa/4.0/",
    Licence.CC_BY_NC: "https://creativecommons.org/licenses/by-nc/4.0/",
    Licence.CC_BY_NC_ND: "https://creativecommons.org/licenses/by-nc-nd/4.0/",
}
NOT_SIGNED = "Not everybody has signed a release."
AT_ONCE = 200


def accepted() -> QuerySet[Accession]:
    """The acceptances that stand, with all that describing them needs; the same few questions for one or for many."""
    releases = Release.objects.filter(withdrawn_at=None).select_related("lifting").order_by("participant_id")
    people = Participant.objects.select_related("person").prefetch_related(Prefetch("releases", queryset=releases))
    parts = Part.objects.filter(position__isnull=False).select_related("file").order_by("position")
    return (
        Accession.objects.filter(undone_at=None)
        .select_related("interview__collection")
        .prefetch_related(
            Prefetch("interview__participants", queryset=people),
            Prefetch("interview__parts", queryset=parts),
            "interview__parts__file__qc_reports",
            "interview__withdrawal_requests",
        )
        .order_by("year", "sequence")
    )


def described(accessions: Iterable[Accession]) -> Iterator[Described]:
    """Each of `accepted()` as plain facts."""
    publisher, today = libraries.current().name, timezone.localdate()
    for accession in accessions:
        yield _described(accession, publisher, today)


def _described(accession: Accession, publisher: str, today: date) -> Described:
    interview = accession.interview
    participants = list(interview.participants.all())
    releases = [release for one in participants for release in one.releases.all()]
    restriction = Restriction.of(releases, on=today) if releases else None
    reports = [latest_report(part.file) for part in interview.parts.all()]
    seconds = [report.measurement["format"]["seconds"] for report in reports if report and report.measurement]
    return Described(
        identifier=accession.number,
        title=_plain(_title(interview, participants)),
        people=tuple(Somebody(_plain(_told(one)), ROLES[_role(one)]) for one in participants if _role(one) in ROLES),
        summary=_plain(interview.summary),
        recorded_on=interview.recorded_on,
        place=_plain(interview.place),
        language=interview.language,
        collection=_plain(interview.collection.name),
        publisher=_plain(publisher),
        terms=restriction.sentence() if restriction else NOT_SIGNED,
        closed_until=restriction.closed_until if restriction else None,
        is_on_site=restriction is not None and restriction.afterwards == Access.ON_SITE,
        licence=_licence(participants),
        seconds=sum(seconds) if reports and len(seconds) == len(reports) else None,
        files=tuple(_file(part) for part in interview.parts.all() if part.file),
        accepted_on=timezone.localtime(accession.accepted_at).date(),
        changed_at=accession.accepted_at,
    )


def _title(interview: Interview, participants: list[Participant]) -> str:
    narrators = [one for one in participants if one.role == Participant.Role.NARRATOR]
    return devised_title([_told(one) or f"{one.role}, {WITHHELD}" for one in narrators], interview.recorded_on)


def _told(participant: Participant) -> str:
    """The name; empty where its bearer wished it withheld."""
    is_withheld = any(release.name_withheld for release in participant.releases.all())
    return "" if is_withheld else participant.person.name


def _role(participant: Participant) -> Participant.Role:
    return Participant.Role(participant.role)


def _licence(participants: list[Participant]) -> str:
    """The licence that all narrators chose alike; none where one of them chose none or another."""
    chosen = [
        {release.licence for release in one.releases.all()}
        for one in participants
        if one.role == Participant.Role.NARRATOR
    ]
    licences = set().union(*chosen) if chosen else set()
    return LICENCES.get(Licence(next(iter(licences))), "") if len(licences) == 1 and "" not in licences else ""


def _file(part: Part) -> SoundFile:
    report, file = latest_report(part.file), part.file
    assert file is not None, "only stored files are asked for"
    container = report.measurement["format"]["container"] if report and report.measurement else ""
    return SoundFile(report.format_in_words if report else "", container, file.media_type, file.bytes)


def _plain(text: str) -> str:
    """Without the control characters that no XML may hold (XML 1.0, section 2.2), whoever typed them."""
    return "".join(letter for letter in text if letter in "\t\n\r" or ord(letter) >= 32)
