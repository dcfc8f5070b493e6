"""One handler per kind of background work: call a service, then perhaps the workflow."""

from uuid import UUID

from intake.audit import services as audit
from intake.codes import digest_of
from intake.files import uploads
from intake.interviews import services as interviews
from intake.interviews.models import Participant
from intake.jobs.models import Kind
from intake.jobs.services import Progress, enqueue, handles, recurs
from intake.mail import services as mail
from intake.once import services as once
from intake.outputs import services as outputs
from intake.qc import services as qc
from intake.register.models import Accession
from intake.releases.models import Release


@handles(Kind.STORE_UPLOAD)
def store_upload(upload_id: str, progress: Progress) -> None:
    file = uploads.store(UUID(upload_id), progress)
    if file is None:
        interviews.part_damaged(upload_id)
        return
    part = interviews.part_arrived(upload_id, file)
    if part:
        enqueue(Kind.MEASURE_PART, part.pk)
        enqueue(Kind.MAKE_LISTENING_COPY, part.pk)


@handles(Kind.MEASURE_PART)
def measure_part(part_id: str, progress: Progress) -> None:
    qc.measure_part(int(part_id), progress)


@handles(Kind.MAKE_LISTENING_COPY)
def make_listening_copy(part_id: str, progress: Progress) -> None:
    outputs.make_listening_copy(int(part_id), progress)


@handles(Kind.MAKE_RELEASE_COPY)
def make_release_copy(release_id: str, progress: Progress) -> None:
    copy = outputs.make_release_copy(int(release_id))
    release = Release.objects.select_related("participant__person", "participant__interview").get(pk=release_id)
    person = release.participant.person
    mail.write(
        key=f"release-copy-{release_id}",
        to=person.email,
        template="release_copy",
        context={"name": person.name, "number": release.number, "url": outputs.check_url(release.number)},
        attachments=[copy.file],
    )


@handles(Kind.MAKE_RECEIPT)
def make_receipt(accession_id: str, progress: Progress) -> None:
    receipt = outputs.make_receipt(int(accession_id))
    accession = Accession.objects.select_related("interview__owner").get(pk=accession_id)
    for name, address in _patrons(accession):
        mail.write(
            key=f"receipt-{accession_id}-{digest_of(address)[:16]}",
            to=address,
            template="receipt",
            context={"name": name, "accession": accession, "url": outputs.check_url(accession.receipt_number)},
            attachments=[receipt.file],
        )


@handles(Kind.SEND_MESSAGE)
def send_message(message_id: str, progress: Progress) -> None:
    mail.send(int(message_id))


@handles(Kind.SEAL_EVENTS)
def seal_events(_: str, progress: Progress) -> None:
    while audit.seal_pending():
        pass


@recurs
def seal_when_there_is_something() -> None:
    if audit.is_pending():
        enqueue(Kind.SEAL_EVENTS, "events")


@recurs
def forget_old_forms() -> None:
    once.delete_old()


def _patrons(accession: Accession) -> list[tuple[str, str]]:
    """Who gave the recording: the volunteer who handed it in and each narrator with an address, each once."""
    interview = accession.interview
    narrators = [(person.name, person.email) for person in interview.people(Participant.Role.NARRATOR) if person.email]
    return list(
        {
            address: (name, address) for name, address in [(interview.owner.name, interview.owner.email), *narrators]
        }.values()
    )
