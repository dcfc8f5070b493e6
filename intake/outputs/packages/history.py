"""What happened to an interview and its files, as PREMIS tells it: the site's events and the readings of its copies."""

from collections.abc import Iterable, Mapping
from typing import Any

from intake.audit.actions import Action
from intake.audit.models import Event, Outcome
from intake.audit.services import thread_of
from intake.files import storage
from intake.files.models import FixityCheck, StoredFile, Why
from intake.interviews.models import Interview, Part
from intake.outputs import naming
from intake.outputs.models import OF_A_PART
from intake.outputs.packages.bags import Content, Told
from intake.outputs.records import premis

SITE = premis.Agent("software:intake", "The library's intake site", "software")

CODES: dict[str, str] = {
    Action.PART_ARRIVED: "tra",
    Action.PART_DAMAGED: "tra",
    Action.ATTACHMENT_ARRIVED: "tra",
    Action.ATTACHMENT_DAMAGED: "tra",
    Action.SCAN_ARRIVED: "tra",
    Action.SCAN_DAMAGED: "tra",
    Action.PART_MEASURED: "mee",
    Action.SUBMITTED: "ing",
    Action.BACKLOG_IMPORTED: "ing",
    Action.PACKAGE_TAKEN_IN: "ing",
    Action.SENT_BACK: "app",
    Action.DECLINED: "app",
    Action.FINDING_ANSWERED: "app",
    Action.OPENING_CHECKED: "app",
    Action.ACCEPTED: "acc",
    Action.ACCEPTANCE_UNDONE: "dea",
    Action.WITHDRAWN: "dea",
    Action.TAKEN_DOWN: "dea",
    Action.RELEASE_WITHDRAWN: "poa",
    Action.CLOSURE_LIFTED: "poa",
    Action.PASSAGE_CLOSED: "poa",
    Action.PASSAGE_OPENED: "poa",
    Action.WITHDRAWAL_ASKED: "poa",
    Action.WITHDRAWAL_REFUSED: "poa",
    Action.RELEASE_SIGNED: "poa",
    Action.AGREEMENT_SIGNED: "poa",
    Action.AGREEMENT_NOTED: "poa",
    Action.FORM_CONFIRMED: "poa",
    Action.FORM_TURNED_DOWN: "poa",
    Action.INTERVIEW_DESCRIBED: "mem",
    Action.PARTICIPANT_ADDED: "mem",
    Action.PARTICIPANT_CORRECTED: "mem",
    Action.PARTICIPANT_REMOVED: "mem",
    Action.PART_MOVED: "mem",
    Action.PART_REMOVED: "mem",
    Action.PART_PUT_BACK: "mem",
    Action.ATTACHMENT_DESCRIBED: "mem",
    Action.ATTACHMENT_TAKEN_OUT: "mem",
    Action.RECORD_CHANGED: "mem",
    Action.HEADING_GIVEN: "mem",
    Action.HEADING_REMOVED: "mem",
    Action.CONTRIBUTOR_NAMED: "mem",
    Action.CONTRIBUTOR_REMOVED: "mem",
    Action.TEXT_READ: "mem",
    Action.TEXT_CHECKED: "mem",
    Action.CATALOGUED: "mem",
    Action.DESCRIBED_AGAIN: "mem",
    Action.PAPER_MADE: "cre",
    Action.COPY_MADE: "mig",
    Action.PACKAGE_MADE: "ipc",
    Action.BAD_COPY_FOUND: "fix",
    Action.COPY_RIGHT_AGAIN: "fix",
    Action.COPY_SET_ASIDE: "qua",
    Action.COPY_RESTORED: "rec",
    Action.GOOD_COPY_GIVEN_BACK: "rec",
}

# Steps on the way, messages and sign-ins are the site's own affair; the rows keep them.
NOT_TOLD = frozenset(
    {
        Action.INTERVIEW_STARTED,
        Action.PART_STARTED,
        Action.PART_STOPPED,
        Action.UPLOAD_EXPIRED,
        Action.ATTACHMENT_STARTED,
        Action.ATTACHMENT_STOPPED,
        Action.SCAN_STARTED,
        Action.SCAN_STOPPED,
        Action.SIGNING_OPENED,
        Action.LINK_SENT,
        Action.COPY_GIVEN,
        Action.LETTER_WRITTEN,
        Action.PAPER_SENT,
        Action.PAPER_REISSUED,
        Action.TURN_OFFERED,
        Action.TURN_ANSWERED,
        Action.WISH_DECIDED,
        Action.LINK_OPENED,
        Action.LINK_ENDED,
        Action.FORM_PRINTED,
        Action.FORM_TYPED,
        Action.FORM_HANDED_IN,
        Action.TAKEN_UP,
        Action.MARK_SET,
        Action.MARK_REMOVED,
        Action.CUE_WRITTEN,
        Action.CUE_CHANGED,
        Action.CUE_REMOVED,
        Action.UNDO_PROPOSED,
        Action.UNDO_REFUSED,
        Action.OWN_INTERVIEW_REVIEWED,
        Action.REVIEW_TAKEN_OVER,
        Action.REVIEW_HANDED_OVER,
        Action.REVIEW_PUT_BACK,
        Action.INTERVIEW_REASSIGNED,
        Action.CARD_MAY_BE_CLEARED,
        Action.CARD_NOTICE_WITHDRAWN,
        Action.NO_GOOD_COPY,
        Action.UNEXPECTED_SET_ASIDE,
        Action.MESSAGE_GIVEN_UP,
        Action.MESSAGE_BOUNCED,
        Action.MESSAGE_SENT_AGAIN,
        Action.MESSAGE_READDRESSED,
        Action.MESSAGE_SETTLED,
    }
)


def story_told(
    interview: Interview,
    *,
    title: str,
    payload: Iterable[Content],
    files: Mapping[str, StoredFile],
    events: Iterable[Event],
    checks: Iterable[FixityCheck],
    withheld: Iterable[int],
    digests: Told,
) -> premis.Story:
    """Everything for one PREMIS document. `withheld` are the accounts of people whose names the library leaves out."""
    entity = premis.Entity(thread_of(interview), title)
    sources = _sources(interview)
    told = [
        premis.File(
            id=content.id,
            path=f"data/{content.path}",
            name=files[content.id].name,
            media_type=files[content.id].media_type,
            bytes=content.bytes,
            sha256=content.sha256,
            sha512=digests[f"data/{content.path}"].sha512,
            source=sources.get(content.id, ""),
        )
        for content in payload
    ]
    subjects = _subjects(interview)
    happened = [_event(event, subjects, entity) for event in events if event.action in CODES]
    happened += [_reading(check) for check in checks]
    return premis.Story(entity, tuple(told), tuple(happened), tuple(_agents(events, checks, set(withheld))))


def _event(event: Event, subjects: Mapping[str, str], entity: premis.Entity) -> premis.Event:
    about = subjects.get(f"{event.subject_type}:{event.subject_id}")
    return premis.Event(
        id=f"event:{event.pk}",
        code=CODES[event.action],
        at=event.at.isoformat(),
        detail=event.sentence,
        outcome=event.get_outcome_display(),
        outcome_note="; ".join(f"{name}: {_plain(value)}" for name, value in event.details.items()),
        agent=_agent_id(event.actor_id),
        objects=(about,) if about else (entity.id,),
    )


def _reading(check: FixityCheck) -> premis.Event:
    is_first = check.why == Why.ARRIVAL
    code = "fix" if not is_first else "mes" if check.store == storage.STORES[0] else "rep"
    found = f"SHA-256: {check.found_sha256}" if check.found_sha256 else check.told
    return premis.Event(
        id=f"reading:{check.pk}",
        code=code,
        at=check.at.isoformat(),
        detail=f"The {check.store} copy was read {check.get_why_display()}.",
        outcome=Outcome.SUCCESS.label if check.matches else Outcome.FAILURE.label,
        outcome_note=f"{check.get_found_display()}; {found}" if found else check.get_found_display(),
        agent=_agent_id(check.by_id),
        objects=(str(check.file_id),),
    )


def _agents(events: Iterable[Event], checks: Iterable[FixityCheck], withheld: set[int]) -> list[premis.Agent]:
    people = {event.actor.pk: event.actor.name for event in events if event.actor and event.action in CODES}
    people |= {check.by.pk: check.by.name for check in checks if check.by}
    return [SITE] + [
        premis.Agent(_agent_id(pk), naming.WITHHELD if pk in withheld else name, "person")
        for pk, name in sorted(people.items())
    ]


def _agent_id(user_id: int | None) -> str:
    return f"account:{user_id}" if user_id else SITE.id


def _subjects(interview: Interview) -> dict[str, str]:
    """Which stored file an event's subject is about: a part's, an attachment's, an output's, or the file itself."""
    things: list[Any] = [*interview.parts.all(), *interview.attachments.all(), *interview.outputs.all()]
    found = {thread_of(thing): str(thing.file_id) for thing in things if thing.file_id}
    ids = set(found.values())
    return found | {f"{StoredFile._meta.label_lower}:{pk}": pk for pk in ids}


def _sources(interview: Interview) -> dict[str, str]:
    """The original that each copy was made from."""
    originals = dict(Part.objects.filter(interview=interview, file__isnull=False).values_list("pk", "file"))
    copies = interview.outputs.filter(kind__in=OF_A_PART).values_list("file", "subject_id")
    return {str(file): str(originals[int(subject.rpartition("/")[2])]) for file, subject in copies}


def _plain(value: Any) -> str:
    return ", ".join(map(str, value)) if isinstance(value, list) else str(value)
