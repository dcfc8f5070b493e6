"""Begin and describe an interview; add, remove and order its parts. No state changes here."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.db import IntegrityError, transaction
from django.db.models import F, Max
from django.utils import timezone

from intake.accounts.models import User
from intake.audit.actions import Action
from intake.audit.services import record
from intake.errors import Refused, refuse_if
from intake.files import uploads
from intake.files.models import StoredFile, Upload, UploadState
from intake.interviews import arrivals, lifecycle, participants
from intake.interviews.models import Collection, Interview, Mark, Part, Participant
from intake.interviews.quota import refuse_over_quota
from intake.jobs.models import Kind
from intake.jobs.services import enqueue
from intake.merging import merged
from intake.people import services as people
from intake.people.models import Person

# Sound was first recorded and played back in 1877 (from memory).
FIRST_RECORDINGS = 1877


@dataclass(frozen=True)
class Description:
    """What a volunteer says of an interview. `language` is a BCP 47 tag."""

    collection: Collection
    recorded_on: date
    place: str
    language: str
    summary: str
    context_notes: str
    names_and_spellings: str


@dataclass(frozen=True)
class Marked:
    """A point in a recording, or a stretch of it, as the recorder stored it."""

    at_seconds: float
    length_seconds: float
    label: str
    note: str


def add_collection(*, name: str, actor: User) -> Collection:
    """Open a collection for interviews to belong to."""
    try:
        with transaction.atomic():
            collection = Collection.objects.create(name=name)
            record(actor=actor, action=Action.COLLECTION_ADDED, subject=collection)
    except IntegrityError as error:
        raise Refused(f"There is a collection “{name}” already.") from error
    return collection


@transaction.atomic
def start(*, actor: User, description: Description, narrator_name: str, narrator_email: str) -> Interview:
    """Begin the record of an interview: the actor is its interviewer, the person named its first narrator."""
    refuse_if(impossible_day(description.recorded_on))
    giver = people.person_of(actor)
    interview = Interview.objects.create(owner=actor, given_by=giver, **vars(description))
    record(actor=actor, action=Action.INTERVIEW_STARTED, subject=interview)
    narrator = people.note_person(name=narrator_name, email=narrator_email, actor=actor)
    participants.add(interview, narrator, Participant.Role.NARRATOR, actor)
    participants.add(interview, giver, Participant.Role.INTERVIEWER, actor)
    return interview


@transaction.atomic
def start_for(
    giver: Person, *, actor: User, description: Description, narrator: Person, interviewer: Person | None
) -> Interview:
    """Staff begin the record of an interview that somebody else gave, and look after it.

    Giver, narrator and interviewer may be one and the same; who asked may not be known yet.
    """
    if not actor.is_archivist:
        raise Refused("Only the library's staff begin an interview for somebody else.")
    if narrator == interviewer:
        raise Refused("The narrator and the interviewer are two people. Leave the interviewer open if nobody asked.")
    refuse_if(impossible_day(description.recorded_on))
    interview = Interview.objects.create(owner=actor, given_by=giver, **vars(description))
    record(actor=actor, action=Action.INTERVIEW_STARTED, subject=interview, names={"given_by": giver.name})
    participants.add(interview, narrator, Participant.Role.NARRATOR, actor)
    if interviewer:
        participants.add(interview, interviewer, Participant.Role.INTERVIEWER, actor)
    return interview


@transaction.atomic
def describe(
    interview_id: int, *, actor: User, description: Description, began: Description | None = None
) -> Interview:
    """Change what is said of an interview that is with the volunteer.

    `began` is what was said when the change was begun: what others saved since then is kept. Raises Conflict.
    """
    refuse_if(impossible_day(description.recorded_on))
    interview = lifecycle.editable(interview_id)
    saved = {name: getattr(interview, name) for name in vars(description)}
    new = merged(vars(began), vars(description), saved) if began else vars(description)
    changed = sorted(name for name, value in new.items() if saved[name] != value)
    if not changed:
        return interview
    for name in changed:
        setattr(interview, name, new[name])
    interview.save()
    record(actor=actor, action=Action.INTERVIEW_DESCRIBED, subject=interview, changed=changed)
    return interview


@transaction.atomic
def add_part(interview_id: int, *, upload: Upload, actor: User) -> Part:
    """Give a file that is beginning to arrive the last place in the order."""
    interview = lifecycle.editable(interview_id)
    refuse_over_quota(upload, actor)
    part = Part.objects.create(interview=interview, upload=upload, position=_last_position(interview) + 1)
    record(
        actor=actor,
        action=Action.PART_STARTED,
        subject=part,
        thread=interview,
        names={"file": upload.name},
        bytes=upload.length,
    )
    return part


@transaction.atomic
def remove_part(part_id: int, *, actor: User) -> None:
    """Take a part out of the order. Bytes that have been stored stay with the library; those still arriving go."""
    interview = lifecycle.editable(Part.objects.get(pk=part_id).interview_id)
    part = Part.objects.select_related("upload").get(pk=part_id)  # read under the lock: its place may have changed
    if part.position is None:
        return
    stored = part.upload.state == UploadState.STORED
    if not stored:
        uploads.stop(part.upload)
    taken, part.position = part.position, None
    part.save(update_fields=["position"])
    _close_gap(interview, taken)
    action = Action.PART_REMOVED if stored else Action.PART_STOPPED
    record(actor=actor, action=action, subject=part, thread=interview, names={"file": part.upload.name})
    enqueue(Kind.TELL_CARD, interview.pk)  # it may have been the last that kept the card


@transaction.atomic
def put_back(part_id: int, *, actor: User) -> None:
    """Give a stored part that was taken out the last place in the order."""
    part = Part.objects.select_related("upload").get(pk=part_id)
    interview = lifecycle.editable(part.interview_id)
    part.refresh_from_db(fields=["position"])
    if part.position is not None:
        return
    if part.file_id is None:
        raise Refused(f"“{part.upload.name}” was not stored. Hand it in again.")
    part.position = _last_position(interview) + 1
    part.save(update_fields=["position"])
    record(actor=actor, action=Action.PART_PUT_BACK, subject=part, thread=interview, names={"file": part.upload.name})


@transaction.atomic
def move_part(part_id: int, *, earlier: bool, actor: User) -> None:
    """Change places with the neighbour before or after; at the end of the row nothing happens."""
    part = Part.objects.get(pk=part_id)
    interview = lifecycle.editable(part.interview_id)
    part.refresh_from_db()
    if part.position is None:
        return
    wanted = part.position + (-1 if earlier else 1)
    neighbour = Part.objects.filter(interview=interview, position=wanted).first()
    if neighbour is None:
        return
    # The constraint allows no two parts in one place, not even for a moment.
    Part.objects.filter(pk=neighbour.pk).update(position=None)
    Part.objects.filter(pk=part.pk).update(position=wanted)
    Part.objects.filter(pk=neighbour.pk).update(position=part.position)
    record(actor=actor, action=Action.PART_MOVED, subject=part, thread=interview, position=wanted)


@transaction.atomic
def order_parts(interview_id: int, *, order: Sequence[int], actor: User) -> None:
    """Put all parts, by their ids, into another order. Raises Refused if they are not the interview's parts now."""
    interview = lifecycle.editable(interview_id)
    parts = {part.pk: part for part in interview.parts.filter(position__isnull=False)}
    if set(parts) != set(order):
        raise Refused("The parts have changed meanwhile. Look at them again.")
    if [part.pk for part in parts.values()] == list(order):
        return
    # The constraint allows no two parts in one place, not even for a moment.
    Part.objects.filter(pk__in=parts).update(position=None)
    for position, pk in enumerate(order, start=1):
        Part.objects.filter(pk=pk).update(position=position)
    record(actor=actor, action=Action.PART_MOVED, subject=interview, order=list(order))


@transaction.atomic
def part_arrived(upload_id: str, file: StoredFile) -> Part | None:
    """Join the stored file to its part; None if it was taken out meanwhile. Doing it again changes nothing."""
    part = Part.objects.select_related("upload", "interview").get(upload_id=upload_id)
    return part if arrivals.join(part, file, Action.PART_ARRIVED) else None


@transaction.atomic
def part_damaged(upload_id: str) -> None:
    """Say that what arrived is not what was sent. Doing it again, or after the part was taken out, changes nothing."""
    arrivals.note_damage(
        Part.objects.select_related("upload", "interview").get(upload_id=upload_id), Action.PART_DAMAGED
    )


def note_marks(part: Part, marks: Sequence[Marked]) -> None:
    """Make the recorder's marks the part's, once: a part that has marks gets no more from a later measurement."""
    if part.marks.filter(kind=Mark.Kind.RECORDER).exists():
        return
    longest = Mark._meta.get_field("label").max_length
    Mark.objects.bulk_create(Mark(part=part, **{**vars(mark), "label": mark.label[:longest]}) for mark in marks)


def parts_of(interview: Interview) -> list[Part]:
    """The parts in order, with their uploads and files; those taken out are left out."""
    return list(
        interview.parts.filter(position__isnull=False)
        .select_related("upload", "file")
        .prefetch_related("file__stored_copies")
        .order_by("position")
    )


def patrons_of(interview: Interview) -> list[tuple[str, str]]:
    """Name and address of whoever gets the receipt, each address once.

    The giver, each narrator, and the volunteer who looks after the interview; staff find it at the desk.
    """
    people_told = [interview.given_by, *interview.people(Participant.Role.NARRATOR)]
    told = [(person.name, people.address_of(person)) for person in people_told]
    if not interview.owner.is_archivist:
        told.append((interview.owner.name, interview.owner.email))
    by_address = {address: name for name, address in reversed(told) if address}
    return [(name, address) for address, name in by_address.items()]


def correspondents_of(interview: Interview) -> list[tuple[str, str, bool]]:
    """Name, address, and whether they can open its page, of whoever is written to about an interview on its way.

    The giver, who may have no account, and whoever looks after it; each address once.
    """
    giver, owner = interview.given_by, interview.owner
    letters = {people.address_of(giver): (giver.name, False), owner.email: (owner.name, True)}
    return [(name, address, may_open) for address, (name, may_open) in letters.items() if address]


def taken_out(interview: Interview) -> list[Part]:
    """Stored parts that were taken out of the order, in the order in which they came."""
    return list(interview.parts.filter(position=None, file__isnull=False).select_related("upload").order_by("pk"))


def impossible_day(recorded_on: date) -> list[str]:
    """Why nothing can have been recorded on this day: a sentence, none if something can."""
    if recorded_on.year < FIRST_RECORDINGS:
        return ["Nothing was recorded that long ago. Look at the day of the interview again."]
    # One day's grace: the volunteer's calendar may be ahead of the server's.
    if recorded_on > timezone.localdate() + timedelta(days=1):
        return ["The day of the interview lies in the future."]
    return []


def _last_position(interview: Interview) -> int:
    return interview.parts.aggregate(last=Max("position"))["last"] or 0


def _close_gap(interview: Interview, taken: int) -> None:
    """One by one, lowest first, so that no two parts are ever in one place."""
    for part in interview.parts.filter(position__gt=taken).order_by("position"):
        Part.objects.filter(pk=part.pk).update(position=F("position") - 1)
