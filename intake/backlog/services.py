"""Takes a checked back-log in, row by row: each row is an interview, stored and measured like any other.

Interrupted and started again it goes on where it stopped: a row and its interview are one transaction, a row's files
are known by their digests, and the copy that was under way is made anew.
"""

import mimetypes
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from uuid import NAMESPACE_URL, UUID, uuid5

from django.db import IntegrityError, transaction
from django.db.models import Q
from django.utils import timezone

from intake import workflow
from intake.accounts.models import User
from intake.audit.actions import Action
from intake.audit.services import record
from intake.backlog.checking import Name, Plan, PlannedFile, PlannedRow
from intake.backlog.models import BacklogImport, BacklogRow
from intake.errors import Refused
from intake.files import storage, storing, uploads
from intake.files.models import UploadState
from intake.interviews import services as interviews
from intake.interviews.models import Interview, Part, State
from intake.jobs import services as jobs
from intake.jobs.models import Job, JobState, Kind
from intake.people import services as people
from intake.people.models import Person

POLL_SECONDS = 0.5
Say = Callable[[str], None]


class NotTaken(Exception):
    """This row is not taken; the message is a sentence that says why. The others go on."""


@dataclass
class Report:
    """What came of it. Rows of an earlier run count as taken then."""

    taken: int = 0
    taken_earlier: int = 0
    handed_in: int = 0
    bytes: int = 0
    notes: list[tuple[int, str]] = field(default_factory=list)


@dataclass(frozen=True)
class Staged:
    """A file of a row, copied to the staging folder under an id of its own."""

    id: UUID
    file: PlannedFile
    sha256: str


def take_in(plan: Plan, *, actor: User, submit: bool, say: Say) -> Report:
    """Take every row of a plan without problems; `submit` hands in those that are complete. One import at a time."""
    if plan.problems:
        raise Refused(*(str(problem) for problem in plan.problems))
    if not (actor.is_archivist and actor.is_active):
        raise Refused("Only the library's staff take a back-log in.")
    try:
        with storage.only_one("backlog-import"):
            return _take_in(plan, actor, submit, say)
    except storage.Busy as error:
        raise Refused("Another import is running. Wait until it has ended.") from error


def _take_in(plan: Plan, actor: User, submit: bool, say: Say) -> Report:
    run, _ = BacklogImport.objects.get_or_create(
        folder=str(plan.folder),
        csv_sha256=plan.csv_sha256,
        defaults={"csv_name": plan.csv_name, "rows_in_all": len(plan.rows), "started_by": actor},
    )
    report = Report()
    for place, planned in enumerate(plan.rows, start=1):
        sentence = _take_row(run, planned, actor, submit, report)
        say(f"Row {planned.number} ({place} of {len(plan.rows)}): {sentence}")
    _finish(run, report, actor)
    return report


def _take_row(run: BacklogImport, planned: PlannedRow, actor: User, submit: bool, report: Report) -> str:
    """Take one row as far as it goes, and tell in a sentence how far that is."""
    row = run.rows.select_related("interview").filter(number=planned.number, interview__isnull=False).first()
    if row:
        report.taken_earlier += 1
    else:
        try:
            row = _begin(run, planned, actor)
        except NotTaken as reason:
            run.rows.update_or_create(number=planned.number, defaults={"note": str(reason)})
            report.notes.append((planned.number, f"not taken. {reason}"))
            return f"not taken. {reason}"
        report.taken += 1
        report.bytes += planned.bytes
    note = _go_on(row, actor, submit, report)
    BacklogRow.objects.filter(pk=row.pk).update(note=note, at=timezone.now())
    if note:
        report.notes.append((planned.number, note))
    return f"“{row.interview}”" + (f": {note}" if note else ".")


def _begin(run: BacklogImport, planned: PlannedRow, actor: User) -> BacklogRow:
    """Copy the files, then write the interview with its parts in one transaction. Raises NotTaken."""
    staged: list[Staged] = []
    try:
        for place in range(len(planned.files)):
            staged.append(_stage(run, planned, place))
        _refuse_known(staged)
        with transaction.atomic():
            interview = _interview(run, planned, actor)
            for each in staged:
                upload = storing.take_in(
                    each.id,
                    owner=actor,
                    name=each.file.path.name,
                    media_type=mimetypes.guess_type(each.file.path.name)[0] or "",
                    length=each.file.bytes,
                    sha256=each.sha256,
                )
                interviews.add_part(interview.pk, upload=upload, actor=actor)
            row, _ = run.rows.update_or_create(
                number=planned.number,
                defaults={"interview": interview, "content": _content(staged), "bytes": planned.bytes, "note": ""},
            )
    except (NotTaken, Refused):
        _clear(staged)
        raise
    except IntegrityError as error:
        _clear(staged)
        raise NotTaken("The same recordings came in from elsewhere at this moment.") from error
    return row


def _clear(staged: list[Staged]) -> None:
    for each in staged:
        storage.clear_staging(each.id)


def _stage(run: BacklogImport, planned: PlannedRow, place: int) -> Staged:
    """Always under the same id, so that what an interrupted run left is written over."""
    file = planned.files[place]
    upload_id = uuid5(NAMESPACE_URL, f"backlog:{run.pk}:{planned.number}:{place}")
    try:
        sha256 = storage.stage(upload_id, file.path)
    except OSError as error:
        storage.clear_staging(upload_id)
        if error.errno in uploads.NO_ROOM:
            raise Refused(
                uploads.DISK_IS_FULL, "Start the import again once there is room; it goes on here."
            ) from error
        raise NotTaken(f"“{file.name}” cannot be read to its end: {error.strerror}.") from error
    if file.sha256 and file.sha256 != sha256:
        storage.clear_staging(upload_id)
        raise NotTaken(
            f"“{file.name}” is not the file that the CSV means: its SHA-256 is {sha256}, the CSV says {file.sha256}."
        )
    return Staged(upload_id, file, sha256)


def _refuse_known(staged: list[Staged]) -> None:
    """The same bytes come in once, whatever they are called."""
    by_digest = {each.sha256: each.file.name for each in staged}
    if len(by_digest) < len(staged):
        raise NotTaken("Two of its files hold the same bytes. Leave one of them out.")
    known = Q(file__sha256__in=by_digest) | Q(
        upload__declared_sha256__in=by_digest, upload__state__in=[UploadState.RECEIVING, UploadState.RECEIVED]
    )
    part = Part.objects.filter(known).select_related("upload", "interview").order_by("pk").first()
    if part:
        name = by_digest[part.upload.declared_sha256]
        raise NotTaken(f"“{name}” is in the library already, as {part} of “{part.interview}”.")


def _content(staged: list[Staged]) -> UUID:
    return uuid5(NAMESPACE_URL, "backlog:" + ",".join(sorted(each.sha256 for each in staged)))


def _interview(run: BacklogImport, planned: PlannedRow, actor: User) -> Interview:
    """Begun by the actor for the giver; whoever has two parts in it is one person."""
    told, asked = planned.narrator, planned.interviewer
    gave = planned.giver.with_address_of(told).with_address_of(asked)
    giver = _person(run, gave, actor)
    narrator = giver if told.is_same(gave) else _person(run, told, actor)
    interviewer = None
    if asked:
        interviewer = giver if asked.is_same(gave) else _person(run, asked, actor)
    return interviews.start_for(
        giver, actor=actor, description=planned.description, narrator=narrator, interviewer=interviewer
    )


def _person(run: BacklogImport, wanted: Name, actor: User) -> Person:
    """Somebody known by name and address, or by name in this import; else somebody new."""
    of_this_run = Q(participations__interview__backlog_row__taken_by=run) | Q(given__backlog_row__taken_by=run)
    by_address = Q(email__iexact=wanted.email) | Q(user__email__iexact=wanted.email) if wanted.email else Q(email="")
    candidates = Person.objects.filter(merged_into=None).filter(by_address)
    if not wanted.email:
        candidates = candidates.filter(of_this_run, user=None)
    named_so = [
        person
        for person in candidates.distinct().order_by("pk")
        if people.folded(person.name) == people.folded(wanted.name)
    ]
    return named_so[0] if named_so else people.note_person(name=wanted.name, email=wanted.email, actor=actor)


def _go_on(row: BacklogRow, actor: User, submit: bool, report: Report) -> str:
    """Store what is not stored yet and hand in if wished; what is still to do, in sentences."""
    interview = row.interview
    assert interview is not None, "only rows that became interviews are gone on with"
    missing = [sentence for part in interviews.parts_of(interview) if (sentence := _store(part))]
    if missing or not submit or interview.state != State.DRAFT:
        return " ".join(missing)
    try:
        workflow.submit(interview.pk, actor=actor)
    except Refused as refused:
        return f"It stays a draft. {refused}"
    report.handed_in += 1
    return ""


def _store(part: Part) -> str:
    """Do the waiting job of one part here, or wait for the worker that does it; why it is not stored, if it is not."""
    while True:
        part.upload.refresh_from_db()
        if part.upload.state == UploadState.DAMAGED:
            return f"“{part}” was damaged on its way in: take it out and hand it in again."
        if part.upload.state != UploadState.RECEIVED:
            return ""
        job = Job.objects.filter(kind=Kind.STORE_UPLOAD, subject_id=str(part.upload_id)).order_by("-pk").first()
        if job is None or job.state == JobState.FAILED:
            return f"“{part}” is not stored yet: see Background work at the desk."
        if job.state == JobState.WAITING and job.due_at > timezone.now():
            return f"“{part}” is not stored yet; the site tries again by itself. Start the import again later."
        jobs.run(job.pk)
        job.refresh_from_db()
        if job.state == JobState.RUNNING:
            time.sleep(POLL_SECONDS)


@transaction.atomic
def _finish(run: BacklogImport, report: Report, actor: User) -> None:
    run.finished_at = timezone.now()
    run.save(update_fields=["finished_at"])
    record(
        actor=actor,
        action=Action.BACKLOG_IMPORTED,
        subject=run,
        taken=report.taken,
        taken_earlier=report.taken_earlier,
        handed_in=report.handed_in,
        bytes=report.bytes,
        csv_sha256=run.csv_sha256,
    )
