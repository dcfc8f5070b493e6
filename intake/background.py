"""One handler per kind of background work: call a service, then perhaps the workflow."""

from collections.abc import Callable
from datetime import date
from typing import Any
from uuid import UUID

from django.utils import timezone

from intake.audit import services as audit
from intake.catalogue import headings
from intake.codes import digest_of
from intake.files import audits, incidents, storing
from intake.files.models import Audit, StoredFile, Upload
from intake.interviews import attachments
from intake.interviews import services as interviews
from intake.interviews.models import Part
from intake.jobs.models import Kind
from intake.jobs.services import Progress, enqueue, gives_up, handles, recurs
from intake.mail import services as mail
from intake.once import services as once
from intake.outputs import (
    access_copies,
    card_notices,
    closures,
    copies,
    custody,
    harvesting,
    issuing,
    papers,
    scans,
    unfinished,
)
from intake.outputs import services as outputs
from intake.outputs.models import Letter, OutputKind
from intake.people.services import address_of
from intake.qc import services as qc
from intake.queue import services as queue
from intake.queue.models import Reader
from intake.register.models import Accession, Arrival
from intake.releases import paper_forms
from intake.releases.models import Agreement, Release, Scan
from intake.releases.restrictions import is_any_due


@handles(Kind.STORE_UPLOAD)
def store_upload(upload_id: str, progress: Progress) -> None:
    file = storing.store(UUID(upload_id), progress)
    arrived, damaged = _doors_of(Upload.objects.get(pk=upload_id))
    if file is None:
        damaged(upload_id)
        return
    thing = arrived(upload_id, file)
    if isinstance(thing, Part):
        enqueue(Kind.MEASURE_PART, thing.pk)
    if isinstance(thing, Scan):
        enqueue(Kind.READ_SCAN, thing.pk)


@handles(Kind.READ_LIST)
def read_list(reading_id: str, progress: Progress) -> None:
    headings.read_list(int(reading_id), progress)


@handles(Kind.READ_SCAN)
def read_scan(scan_id: str, progress: Progress) -> None:
    scans.read_code(int(scan_id))


@handles(Kind.MEASURE_PART)
def measure_part(part_id: str, progress: Progress) -> None:
    report = qc.measure_part(int(part_id), progress)
    enqueue(Kind.MAKE_LISTENING_COPY, part_id)
    if report.measurement:
        enqueue(Kind.MAKE_SOUND_PICTURE, part_id)
    if copies.needs_working_copy(report.file):
        enqueue(Kind.MAKE_WORKING_COPY, part_id)


@gives_up(Kind.MEASURE_PART)
def part_not_measured(part_id: str, error: str) -> None:
    enqueue(Kind.MAKE_LISTENING_COPY, part_id)


@handles(Kind.MAKE_LISTENING_COPY)
def make_listening_copy(part_id: str, progress: Progress) -> None:
    copies.make_listening_copy(int(part_id), progress)


@handles(Kind.MAKE_SOUND_PICTURE)
def make_sound_picture(part_id: str, progress: Progress) -> None:
    copies.make_sound_picture(int(part_id), progress)


@handles(Kind.MAKE_WORKING_COPY)
def make_working_copy(part_id: str, progress: Progress) -> None:
    copies.make_working_copy(int(part_id), progress)


@handles(Kind.MAKE_DESCRIBED_COPIES)
def make_described_copies(accession_id: str, progress: Progress) -> None:
    copies.make_described_copies(int(accession_id), progress)


@handles(Kind.MAKE_ACCESS_COPIES)
def make_access_copies(interview_id: str, progress: Progress) -> None:
    access_copies.make_access_copies(int(interview_id), progress)


@handles(Kind.LIFT_CLOSURES)
def lift_closures(day: str, progress: Progress) -> None:
    while closures.lift_those_due(date.fromisoformat(day)):
        pass


@recurs
def lift_closures_on_their_day() -> None:
    today = timezone.localdate()
    if is_any_due(today):
        enqueue(Kind.LIFT_CLOSURES, today.isoformat())


@handles(Kind.MAKE_RELEASE_COPY)
def make_release_copy(release_id: str, progress: Progress) -> None:
    copy = papers.make_paper(OutputKind.RELEASE_COPY, release_id)
    release = Release.objects.select_related("participant__person__user", "participant__interview").get(pk=release_id)
    person = release.participant.person
    mail.write(
        key=f"release-copy-{release_id}",
        to=address_of(person),
        template="release_copy",
        thread=release.participant.interview,
        context={"name": person.name, "number": release.number, "url": outputs.check_url(release.number)},
        attachments=[copy.file],
    )


@handles(Kind.MAKE_AGREEMENT_COPY)
def make_agreement_copy(agreement_id: str, progress: Progress) -> None:
    copy = papers.make_paper(OutputKind.AGREEMENT_COPY, agreement_id)
    agreement = Agreement.objects.select_related("participant__person__user", "participant__interview").get(
        pk=agreement_id
    )
    person = agreement.participant.person
    mail.write(
        key=f"agreement-copy-{agreement_id}",
        to=address_of(person),
        template="agreement_copy",
        thread=agreement.participant.interview,
        context={"name": person.name, "number": agreement.number, "url": outputs.check_url(agreement.number)},
        attachments=[copy.file],
    )


@handles(Kind.MAKE_ARRIVAL_RECEIPT)
def make_arrival_receipt(arrival_id: str, progress: Progress) -> None:
    paper = papers.make_paper(OutputKind.ARRIVAL_RECEIPT, arrival_id)
    arrival = Arrival.objects.select_related("interview__owner", "interview__given_by__user").get(pk=arrival_id)
    page = outputs.site_url("portal:interview-detail", arrival.interview_id)
    for name, address, may_open in interviews.correspondents_of(arrival.interview):
        mail.write(
            key=f"arrival-{arrival_id}-{digest_of(address)[:16]}",
            to=address,
            template="arrival",
            thread=arrival.interview,
            context={
                "name": name,
                "arrival": arrival,
                "url": page if may_open else "",
                "check_url": outputs.check_url(arrival.number),
            },
            attachments=[paper.file],
        )


@handles(Kind.MAKE_RECEIPT)
def make_receipt(accession_id: str, progress: Progress) -> None:
    accession = Accession.objects.select_related("interview__owner", "interview__given_by__user").get(pk=accession_id)
    if not accession.stands:  # undone before its receipt was made: there is nothing to receive
        return
    receipt = papers.make_paper(OutputKind.RECEIPT, accession_id)
    for name, address in interviews.patrons_of(accession.interview):
        mail.write(
            key=f"receipt-{accession_id}-{digest_of(address)[:16]}",
            to=address,
            template="receipt",
            thread=accession.interview,
            context={"name": name, "accession": accession, "url": outputs.check_url(accession.receipt_number)},
            attachments=[receipt.file],
        )


@handles(Kind.MAKE_LETTER)
def make_letter(letter_id: str, progress: Progress) -> None:
    paper = papers.make_paper(OutputKind.LETTER, letter_id)
    if Letter.objects.get(pk=letter_id).by_email:
        issuing.send_to_holders(paper)


@handles(Kind.MAKE_QUALITY_REPORT)
def make_quality_report(subject: str, progress: Progress) -> None:
    papers.make_paper(OutputKind.QUALITY_REPORT, subject)


@handles(Kind.REISSUE_PAPER)
def reissue_paper(reissue_id: str, progress: Progress) -> None:
    issuing.send_to_holders(papers.make_again(int(reissue_id)))


@handles(Kind.SEND_MESSAGE)
def send_message(message_id: str, progress: Progress) -> None:
    mail.send(int(message_id))


@gives_up(Kind.SEND_MESSAGE)
def message_not_sent(message_id: str, error: str) -> None:
    mail.give_up(int(message_id), error)


@handles(Kind.AUDIT_COPIES)
def audit_copies(night: str, progress: Progress) -> None:
    audits.read_tonight(date.fromisoformat(night), progress)


@recurs
def audit_when_it_is_night() -> None:
    if night := audits.is_due(timezone.now()):
        enqueue(Kind.AUDIT_COPIES, night.isoformat())


@handles(Kind.CHECK_COPIES)
def check_copies(audit_id: str, progress: Progress) -> None:
    audit = Audit.objects.get(pk=audit_id)
    if audit.finished_at is None:
        audits.read_all(audit, custody.files_about(audit.about), lambda done, total: progress(done / max(total, 1)))


@handles(Kind.TELL_INCIDENTS)
def tell_incidents(_: str, progress: Progress) -> None:
    while custody.tell_coordinators():
        pass


@recurs
def tell_of_incidents() -> None:
    if incidents.are_to_be_told():
        enqueue(Kind.TELL_INCIDENTS, "incidents")


@handles(Kind.TELL_CARD)
def tell_card(interview_id: str, progress: Progress) -> None:
    card_notices.tell(int(interview_id))


@handles(Kind.CLEAR_UPLOADS)
def clear_uploads(_: str, progress: Progress) -> None:
    now = timezone.now()
    while unfinished.warn(now):
        pass
    while unfinished.clear(now):
        pass


@recurs
def clear_uploads_when_there_are_any() -> None:
    if unfinished.is_due(timezone.now()):
        enqueue(Kind.CLEAR_UPLOADS, "uploads")


@handles(Kind.SEAL_EVENTS)
def seal_events(_: str, progress: Progress) -> None:
    while audit.seal_pending():
        pass


@recurs
def seal_when_there_is_something() -> None:
    if audit.is_pending():
        enqueue(Kind.SEAL_EVENTS, "events")


# Whatever is recorded of an interview may change its line in the queue.
audit.follow(queue.note_touched)


@handles(Kind.REFRESH_QUEUE)
def refresh_queue(_: str, progress: Progress) -> None:
    while queue.bring_up_to_date():
        pass


@recurs
def refresh_queue_when_it_is_stale() -> None:
    if queue.is_any_stale():
        enqueue(Kind.REFRESH_QUEUE, "queue")


@handles(Kind.REFRESH_HARVEST)
def refresh_harvest(_: str, progress: Progress) -> None:
    while harvesting.bring_up_to_date():
        pass


@recurs
def refresh_harvest_when_it_is_stale() -> None:
    if queue.is_any_stale(Reader.HARVEST):
        enqueue(Kind.REFRESH_HARVEST, "harvest")


@recurs
def forget_old_forms() -> None:
    once.delete_old()


# What may point to an upload, with what is done once the file has arrived whole, or damaged.
ARRIVALS: dict[str, tuple[Callable[[str, StoredFile], Any], Callable[[str], None]]] = {
    "part": (interviews.part_arrived, interviews.part_damaged),
    "attachment": (attachments.attachment_arrived, attachments.attachment_damaged),
    "scan": (paper_forms.scan_arrived, paper_forms.scan_damaged),
}


def _doors_of(upload: Upload) -> tuple[Callable[[str, StoredFile], Any], Callable[[str], None]]:
    return next(doors for thing, doors in ARRIVALS.items() if hasattr(upload, thing))
