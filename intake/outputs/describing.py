"""What may be said of accepted interviews outside the house, gathered for the records; withheld names are left out."""

from collections.abc import Iterable, Iterator
from datetime import date

from django.db.models import Prefetch, QuerySet
from django.utils import timezone

from intake.catalogue.models import AccessPoint, Contributor, Cue, Description, Heading, TimedText
from intake.catalogue.rights import LICENCES, licence_chosen
from intake.catalogue.withheld import Withheld
from intake.interviews.models import Interview, Part, Participant
from intake.library import services as libraries
from intake.outputs.naming import WITHHELD, devised_title
from intake.outputs.records.described import Described, Point, Role, Somebody, SoundFile, Topic
from intake.outputs.times import is_closed_at, timecode
from intake.people.models import Person
from intake.qc.services import latest_report
from intake.register.models import Accession
from intake.releases.models import Access, Release
from intake.releases.restrictions import Restriction

ROLES: dict[str, Role | None] = {
    Participant.Role.NARRATOR: Role.NARRATOR,
    Participant.Role.INTERVIEWER: Role.INTERVIEWER,
    Participant.Role.INTERPRETER: Role.INTERPRETER,
    Contributor.Role.TRANSCRIBER: Role.TRANSCRIBER,
    Contributor.Role.RECORDIST: Role.RECORDIST,
    Contributor.Role.ALSO_HEARD: Role.ALSO_HEARD,
    Contributor.Role.SPOKEN_OF: None,
}
NOT_SIGNED = "Not everybody has signed a release."
AT_ONCE = 200


def accepted() -> QuerySet[Accession]:
    """The acceptances that stand, with all that describing them needs; the same few questions for one or for many."""
    releases = Release.objects.filter(withdrawn_at=None).select_related("lifting").order_by("participant_id")
    people = Participant.objects.select_related("person").prefetch_related(Prefetch("releases", queryset=releases))
    parts = Part.objects.filter(position__isnull=False).select_related("file").order_by("position")
    texts = TimedText.objects.filter(cues__part__position__isnull=False).distinct()
    outline = Cue.objects.filter(text__kind=TimedText.Kind.OUTLINE)
    return (
        Accession.objects.filter(undone_at=None)
        .select_related("interview__collection", "interview__catalogue_description")
        .prefetch_related(
            Prefetch("interview__participants", queryset=people),
            Prefetch("interview__parts", queryset=parts),
            "interview__parts__file__qc_reports",
            "interview__parts__closed_passages",
            Prefetch("interview__parts__cues", queryset=outline),
            Prefetch("interview__timed_texts", queryset=texts),
            Prefetch("interview__access_points", queryset=AccessPoint.objects.select_related("heading__authority")),
            Prefetch("interview__contributors", queryset=Contributor.objects.select_related("person")),
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
    withheld, said = Withheld.of(participants), _said(interview)
    releases = [release for one in participants for release in one.releases.all()]
    restriction = Restriction.of(releases, on=today) if releases else None
    lengths = [_seconds(part) for part in interview.parts.all()]

    def plain(text: str) -> str:
        return _plain(withheld.left_out_of(text))

    return Described(
        identifier=accession.number,
        title=plain(said.title) if said and said.title else _plain(_title(interview, participants, withheld)),
        people=tuple(_people(interview, participants, withheld)),
        summary=plain(said.summary if said else interview.summary),
        recorded_on=interview.recorded_on,
        place=plain(interview.place),
        languages=tuple(said.languages if said else [interview.language]),
        collection=plain(interview.collection.name),
        publisher=_plain(publisher),
        terms=restriction.sentence() if restriction else NOT_SIGNED,
        closed_until=restriction.closed_until if restriction else None,
        is_on_site=restriction is not None and restriction.afterwards == Access.ON_SITE,
        rights=tuple(_rights(said, licence_chosen(participants))),
        seconds=sum(length for length in lengths if length) if lengths and None not in lengths else None,
        files=tuple(_file(part) for part in interview.parts.all() if part.file),
        accepted_on=timezone.localtime(accession.accepted_at).date(),
        changed_at=said.changed_at if said else accession.accepted_at,
        points=tuple(
            _point(point) for point in interview.access_points.all() if not withheld.stands_in(point.heading.label)
        ),
        periods=tuple(said.periods if said else ()),
        outline=tuple(Topic(at, plain(words)) for at, words in _outline(interview)),
        has_transcript=any(text.kind == TimedText.Kind.TRANSCRIPT for text in interview.timed_texts.all()),
    )


def _said(interview: Interview) -> Description | None:
    return getattr(interview, "catalogue_description", None)


def _title(interview: Interview, participants: list[Participant], withheld: Withheld) -> str:
    narrators = [one for one in participants if one.role == Participant.Role.NARRATOR]
    told = [f"{one.role}, {WITHHELD}" if one.person_id in withheld.people else one.person.name for one in narrators]
    return devised_title(told, interview.recorded_on)


def _people(interview: Interview, participants: list[Participant], withheld: Withheld) -> Iterator[Somebody]:
    """Of the others nobody is told of whose own name, in whichever role, was promised withheld."""
    for one in participants:
        if one.role in ROLES:
            yield _somebody(one.person, ROLES[one.role], is_withheld=one.person_id in withheld.people)
    for other in interview.contributors.all():
        if other.person_id not in withheld.people:
            yield _somebody(other.person, ROLES[other.role], is_withheld=False)


def _somebody(person: Person, role: Role | None, *, is_withheld: bool) -> Somebody:
    if is_withheld:
        return Somebody("", role)
    variants = tuple(map(_plain, person.variant_names))
    return Somebody(_plain(person.name), role, _plain(person.catalogue_name), variants, person.life_dates, person.uri)


def _rights(said: Description | None, licence: str) -> list[str]:
    """What the library chose, and the licence that the narrators gave; one that they did not give is none."""
    chosen = said.rights if said and (said.rights == licence or said.rights not in LICENCES.values()) else ""
    return list(dict.fromkeys(filter(None, [chosen, licence])))


def _point(point: AccessPoint) -> Point:
    heading = point.heading
    return Point(
        label=_plain(heading.label),
        is_place=heading.kind == Heading.Kind.PLACE,
        code=heading.authority.code,
        uri=heading.uri,
        latitude=heading.latitude,
        longitude=heading.longitude,
        is_where_recorded=point.use == AccessPoint.Use.RECORDED_AT,
    )


def _outline(interview: Interview) -> Iterator[tuple[str, str]]:
    """The topics with their times. SECURITY: what is spoken of in a closed passage is not told either."""
    parts = list(interview.parts.all())
    for part in parts:
        where = f"Part {part.position}, " if len(parts) > 1 else ""
        for cue in part.cues.all():
            if not is_closed_at(part, cue.starts_ms, cue.ends_ms):
                yield f"{where}{timecode(cue.starts_ms)}", cue.words


def _seconds(part: Part) -> float | None:
    report = latest_report(part.file)
    return report.measurement["format"]["seconds"] if report and report.measurement else None


def _file(part: Part) -> SoundFile:
    report, file = latest_report(part.file), part.file
    assert file is not None, "only stored files are asked for"
    container = report.measurement["format"]["container"] if report and report.measurement else ""
    return SoundFile(report.format_in_words if report else "", container, file.media_type, file.bytes)


def _plain(text: str) -> str:
    """Without the control characters that no XML may hold (XML 1.0, section 2.2), whoever typed them."""
    return "".join(letter for letter in text if letter in "\t\n\r" or ord(letter) >= 32)
