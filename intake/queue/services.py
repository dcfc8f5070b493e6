"""Keep the entries true: note what an event touched, derive it anew from the rows that it stands for."""

from collections.abc import Callable, Iterable

from django.db import transaction
from django.db.models import Q

from intake.access.services import terms_of
from intake.audit.models import Event
from intake.catalogue.complete import description_of
from intake.catalogue.models import AccessPoint, Cue, Description, Heading, TimedText
from intake.interviews.models import Interview, Participant, State
from intake.interviews.services import parts_of
from intake.people.models import Person
from intake.qc.models import QCReport
from intake.qc.services import latest_report
from intake.queue.models import BY_STAGE, STAGE, QueueEntry, Reader, Standing, Touched
from intake.queue.search import words_of
from intake.register.services import standing as standing_accession
from intake.releases.models import Access
from intake.releases.passages import closed_passages

# Reading the queue looks at so many interviews anew, so that no page waits for the thousands of an import; the sweep
# does the rest.
BEFORE_A_PAGE = 50
AT_ONCE = 200
# One interview may have been touched a hundred times since, and is looked at once.
NOTES_AT_ONCE = 10_000
DERIVED = [field.name for field in QueueEntry._meta.fields if not field.primary_key]
WORST_FIRST = (Standing.PROBLEM, Standing.LOOK_CLOSER)


def note_touched(event: Event) -> None:
    """Note, in the transaction of an event, of which interviews something has to be derived anew, for each reader."""
    touched = set(_interviews_of(event))
    Touched.objects.bulk_create(
        [Touched(interview=interview, reader=reader) for interview in touched for reader in Reader]
    )


def is_any_stale(reader: Reader = Reader.QUEUE) -> bool:
    return Touched.objects.filter(reader=reader).exists()


def before_a_page() -> None:
    """What somebody did a moment ago stands in the list that they see next."""
    if is_any_stale():
        bring_up_to_date(BEFORE_A_PAGE)


def bring_up_to_date(at_most: int = AT_ONCE) -> int:
    """Derive entries that are stale; returns how many."""
    return deal_with(Reader.QUEUE, _derive, at_most)


@transaction.atomic
def deal_with(reader: Reader, derive: Callable[[set[int]], None], at_most: int) -> int:
    """Have the interviews that were touched the longest ago looked at anew; returns how many.

    Two at once would lay an older answer over a newer one: the lock on the oldest note makes them take turns.
    """
    notes = list(Touched.objects.filter(reader=reader).select_for_update().order_by("pk")[:NOTES_AT_ONCE])
    interviews = set(list(dict.fromkeys(note.interview for note in notes))[:at_most])
    derive(interviews)
    _delete_notes([note for note in notes if note.interview in interviews])
    return len(interviews)


def _derive(interviews: set[int]) -> None:
    touched = Interview.objects.filter(pk__in=interviews)
    whole = touched.select_related("collection", "given_by").prefetch_related("participants__person")
    QueueEntry.objects.bulk_create(
        map(_derived, whole), update_conflicts=True, unique_fields=["interview"], update_fields=DERIVED
    )


def _delete_notes(notes: list[Touched]) -> None:
    Touched.objects.filter(pk__in=[note.pk for note in notes]).delete()


def _interviews_of(event: Event) -> Iterable[int]:
    kind, _, thread = event.thread.partition(":")
    if kind == Interview._meta.label_lower:
        yield int(thread)
    if person := _person_of(event):
        named = Q(given_by=person) | Q(participants__person=person) | Q(contributors__person=person)
        yield from Interview.objects.filter(named).values_list("pk", flat=True)
    if event.subject_type == Heading._meta.label_lower:
        yield from AccessPoint.objects.filter(heading=int(event.subject_id)).values_list("interview", flat=True)


def _person_of(event: Event) -> int | None:
    """Whose name the event may have changed, on whichever interview."""
    if event.subject_type == Person._meta.label_lower:
        return int(event.subject_id)
    if event.subject_type == Participant._meta.label_lower:
        return Participant.objects.filter(pk=event.subject_id).values_list("person", flat=True).first()
    return None


def _derived(interview: Interview) -> QueueEntry:
    terms, since = terms_of(interview), interview.submitted_at or interview.started_at
    restriction, accession = terms.restriction, standing_accession(interview)
    parts = parts_of(interview)
    reports = [latest_report(part.file) for part in parts]
    number = accession.number if accession else ""
    said = description_of(interview)
    narrators = [person.name for person in interview.people(Participant.Role.NARRATOR)]
    return QueueEntry(
        interview=interview,
        collection=interview.collection,
        reviewer_id=interview.reviewer_id,
        state=interview.state,
        submitted_at=interview.submitted_at,
        work_order=_stage(interview.state) * STAGE + int(since.timestamp()),
        waiting_since=since,
        recorded_on=interview.recorded_on,
        title=said.title or interview.title,
        name=words_of(*narrators),
        given_by=interview.given_by.name,
        seconds=_seconds(reports),
        standing=_standing(reports),
        is_signed=terms.is_signed,
        is_contested=terms.is_contested,
        closed_until=restriction.closed_until if restriction else None,
        is_on_site=restriction is not None and restriction.afterwards == Access.ON_SITE,
        is_name_withheld=restriction is not None and bool(restriction.withheld),
        has_closed_passages=any(closed_passages(part) for part in parts),
        accession_number=number,
        words=words_of(
            *_texts(interview), *_catalogued(interview, said), number, *(part.upload.name for part in parts)
        ),
    )


def _stage(state: str) -> int:
    return BY_STAGE.index(State(state)) if state in BY_STAGE else len(BY_STAGE)


def _texts(interview: Interview) -> list[str]:
    named = [participant.person.name for participant in interview.participants.all()]
    return [
        *named,
        interview.given_by.name,
        interview.place,
        interview.collection.name,
        interview.summary,
        interview.names_and_spellings,
    ]


def _catalogued(interview: Interview, said: Description) -> list[str]:
    """What the library says of it: the record's text, its headings in all their forms, whom else it names."""
    headings = Heading.objects.filter(access_points__interview=interview)
    people = Person.objects.filter(contributions__interview=interview)
    topics = Cue.objects.filter(
        text__interview=interview, text__kind=TimedText.Kind.OUTLINE, part__position__isnull=False
    )
    return [
        said.title,
        said.summary,
        *headings.values_list("words", flat=True),
        *people.values_list("name", flat=True),
        *topics.values_list("words", flat=True),
    ]


def _standing(reports: list[QCReport | None]) -> Standing:
    """The worst of all parts; one that was not measured could hide anything but what was found already."""
    found = {report.standing for report in reports if report}
    worst = next((one for one in WORST_FIRST if one in found), None)
    if worst:
        return worst
    return Standing.GOOD if reports and None not in reports else Standing.NOT_MEASURED


def _seconds(reports: list[QCReport | None]) -> float | None:
    measured = [report.measurement["format"]["seconds"] for report in reports if report and report.measurement]
    return sum(measured) if reports and len(measured) == len(reports) else None
