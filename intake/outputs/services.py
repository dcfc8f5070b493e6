"""Make a paper or a copy, once: build it aside, store it, then say that it is there."""

from collections.abc import Callable
from datetime import date, datetime
from uuid import NAMESPACE_URL, UUID, uuid5

from django.conf import settings
from django.db import transaction
from django.urls import reverse

from intake.audit.actions import Action
from intake.audit.services import record
from intake.files import services as files
from intake.files import storage
from intake.files.models import StoredFile
from intake.interviews.models import Interview, Part
from intake.library import services as libraries
from intake.outputs.listening import ListeningCopyFailed
from intake.outputs.listening import make_listening_copy as encode
from intake.outputs.models import Output, OutputKind
from intake.outputs.paper.receipt import Receipt, ReceiptPart, SignedTerms, receipt_pdf
from intake.outputs.paper.release import SignedRelease, release_pdf
from intake.outputs.paper.style import Library
from intake.qc.services import latest_report
from intake.register.models import Accession
from intake.releases.models import Release
from intake.releases.services import Restriction

PDF = "application/pdf"
NEXT_STEPS = (
    "Your recording is now in the library's keeping and waits to be described in the catalogue. "
    "You may ask for a copy, ask to hear it again, or ask the library about withdrawing it, at the address above."
)


def make_listening_copy(part_id: int, progress: Callable[[float], None]) -> Output | None:
    """A small copy for the browser; None if the file holds no sound that can be read (its QC report says why)."""
    part = Part.objects.select_related("file", "interview").get(pk=part_id)
    made = existing(OutputKind.LISTENING_COPY, part_id)
    if made:
        return made
    assert part.file is not None, "the job is enqueued when the file has been stored"
    with storage.local_path(part.file.key) as source, storage.scratch_folder() as folder:
        try:
            copy = encode(source, folder / "listening.mp3", progress=_share_of(part.file, progress))
        except ListeningCopyFailed:
            return None
        file = files.keep(
            folder / "listening.mp3",
            file_id=_file_id(OutputKind.LISTENING_COPY, part_id),
            name=f"{part.file.name[:250]}.mp3",
            media_type=copy.media_type,
        )
    return _keep(OutputKind.LISTENING_COPY, part_id, part.interview, file, Action.COPY_MADE)


def make_release_copy(release_id: int) -> Output:
    """The signer's own copy of a release, as a PDF."""
    release = Release.objects.select_related(
        "participant__interview", "participant__person", "wording", "session__opened_by"
    ).get(pk=release_id)
    pdf = release_pdf(_release_paper(release))
    return _make_paper(
        OutputKind.RELEASE_COPY, release_id, release.participant.interview, f"release-{release.number}.pdf", pdf
    )


def make_receipt(accession_id: int) -> Output:
    """The acceptance receipt, as a PDF, from the register's snapshot."""
    accession = Accession.objects.select_related("interview", "accepted_by").get(pk=accession_id)
    pdf = receipt_pdf(_receipt_paper(accession))
    return _make_paper(OutputKind.RECEIPT, accession_id, accession.interview, f"receipt-{accession.number}.pdf", pdf)


def existing(kind: str, subject_id: object) -> Output | None:
    return Output.objects.select_related("file").filter(kind=kind, subject_id=str(subject_id)).first()


def receipt_of(interview: Interview) -> Output | None:
    """The acceptance receipt of an interview, once it has been made."""
    return interview.outputs.select_related("file").filter(kind=OutputKind.RECEIPT).first()


def check_url(number: str) -> str:
    """Where anyone may check a paper by its number."""
    return site_url("narrator:check-paper", number)


def site_url(name: str, *args: object) -> str:
    """The address of a page for papers and messages, which have no request to take it from."""
    return settings.SITE_URL.rstrip("/") + reverse(name, args=args)


def _share_of(file: StoredFile, progress: Callable[[float], None]) -> Callable[[float], None]:
    """Seconds read, told as the share of the whole; the length is known once the part has been measured."""
    report = latest_report(file)
    seconds = report.measurement["format"]["seconds"] if report and report.measurement else 0
    return lambda read: progress(min(read / seconds, 1.0) if seconds else 0.0)


def _make_paper(kind: OutputKind, subject_id: int, interview: Interview, name: str, pdf: bytes) -> Output:
    made = existing(kind, subject_id)
    if made:
        return made
    file = files.keep_bytes(pdf, file_id=_file_id(kind, subject_id), name=name, media_type=PDF)
    return _keep(kind, subject_id, interview, file, Action.PAPER_MADE)


def _keep(kind: OutputKind, subject_id: int, interview: Interview, file: StoredFile, action: Action) -> Output:
    with transaction.atomic():
        output, new = Output.objects.get_or_create(
            kind=kind, subject_id=str(subject_id), defaults={"interview": interview, "file": file}
        )
        if new:
            record(actor=None, action=action, subject=output, thread=interview, kind=kind, sha256=file.sha256)
    return output


def _file_id(kind: OutputKind, subject_id: int) -> UUID:
    """Always the same for one thing, so that work done twice is stored once."""
    return uuid5(NAMESPACE_URL, f"{kind}:{subject_id}")


def _library() -> Library:
    ours = libraries.current()
    logo = None
    if ours.logo:
        with storage.open_copy("primary", ours.logo.key) as copy:
            logo = copy.read()
    return Library(name=ours.name, room=ours.room_and_place, contact=ours.contact_lines, logo_png=logo)


def _release_paper(release: Release) -> SignedRelease:
    described = release.interview_as_described
    return SignedRelease(
        number=release.number,
        check_url=check_url(release.number),
        library=_library(),
        interview=described["title"],
        recorded_on=date.fromisoformat(described["recorded_on"]),
        place=described["place"],
        signer=release.participant.person.name,
        role=release.participant.get_role_display(),
        wording_title=release.wording.title,
        wording_version=str(release.wording.version),
        wording_language=release.wording.language,
        wording_text=release.wording_text,
        wording_sha256=release.wording_sha256,
        restriction=Restriction.of([release]).sentence(),
        choices=("My name is withheld.",) if release.name_withheld else ("My name may be shown.",),
        method=release.method,
        typed_name=release.typed_name,
        signature_png=bytes(release.signature_png) if release.signature_png else None,
        signed_at=release.signed_at,
        consented_to_electronic_at=release.consented_at,
        address=release.address or "not known",
        agent=release.agent,
        opened_by=release.session.opened_by.name,
    )


def _receipt_paper(accession: Accession) -> Receipt:
    taken = accession.snapshot
    return Receipt(
        number=accession.receipt_number,
        check_url=check_url(accession.receipt_number),
        issued_at=accession.accepted_at,
        library=_library(),
        accession_number=accession.number,
        accepted_at=accession.accepted_at,
        accepted_by=accession.accepted_by.name,
        title=taken["title"],
        collection=taken["collection"],
        narrators=tuple(taken["narrators"]),
        interviewers=tuple(taken["interviewers"]),
        recorded_on=date.fromisoformat(taken["recorded_on"]),
        place=taken["place"],
        given_by=taken["given_by"],
        parts=tuple(ReceiptPart(**part) for part in taken["parts"]),
        terms=tuple(_signed_terms(terms) for terms in taken["terms"]),
        restriction=taken["restriction"],
        next_steps=NEXT_STEPS,
    )


def _signed_terms(terms: dict) -> SignedTerms:
    return SignedTerms(
        signer=terms["signer"],
        role=terms["role"],
        wording=terms["wording"],
        signed_at=datetime.fromisoformat(terms["signed_at"]),
        restriction=terms["restriction"],
    )
