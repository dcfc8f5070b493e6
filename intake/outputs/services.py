"""Make a paper or a copy, once: build it aside, store it, then say that it is there."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any
from uuid import NAMESPACE_URL, UUID, uuid5

from cryptography.hazmat.primitives.serialization import Encoding
from cryptography.x509 import load_pem_x509_certificates
from django.conf import settings
from django.db import transaction
from django.urls import reverse
from django.utils import timezone

from intake.audit.actions import Action
from intake.audit.services import record
from intake.errors import Refused
from intake.files import services as files
from intake.files import serving, storage
from intake.files.models import StoredFile
from intake.interviews.models import Interview
from intake.library import certificates
from intake.library import services as libraries
from intake.outputs.models import Output, OutputKind
from intake.outputs.paper import words
from intake.outputs.paper.arrival import ArrivalReceipt, ArrivedFile, arrival_pdf
from intake.outputs.paper.receipt import Receipt, ReceiptAttachment, ReceiptPart, SignedTerms, receipt_pdf
from intake.outputs.paper.release import AGREEMENT_KIND, OnPaper, OnScreen, ScannedPage, SignedRelease, release_pdf
from intake.outputs.paper.release_form import FormToSign, NotPrintable, release_form_pdf
from intake.outputs.paper.scan import picture_of
from intake.outputs.paper.seal import Credentials, sealed
from intake.outputs.paper.style import Library
from intake.register import services as register
from intake.register.models import Accession, Arrival
from intake.releases.models import Access, Agreement, Licence, Release, ReleaseForm, SignedForm, Wording
from intake.releases.paper_forms import scans_of
from intake.releases.restrictions import chosen
from intake.releases.wordings import digest_of_text

PDF = "application/pdf"
NEXT_STEPS = (
    "Your recording is now in the library's keeping and waits to be described in the catalogue. "
    "You may ask for a copy, ask to hear it again, or ask the library about withdrawing it, at the address above."
)


@dataclass(frozen=True)
class ArrivalPaper:
    """One arrival and its receipt; None while that is being made."""

    arrival: Arrival
    paper: Output | None


def make_release_copy(release_id: int) -> Output:
    """The signer's own copy of a release, as a PDF."""
    release = _release(release_id)
    pdf = release_pdf(_release_paper(release))
    return _make_paper(
        OutputKind.RELEASE_COPY, release_id, release.participant.interview, f"release-{release.number}.pdf", pdf
    )


def make_agreement_copy(agreement_id: int) -> Output:
    """The signer's own copy of a signed agreement to take part, as a PDF."""
    agreement = _agreement(agreement_id)
    pdf = release_pdf(_agreement_paper(agreement))
    name = f"agreement-{agreement.number}.pdf"
    return _make_paper(OutputKind.AGREEMENT_COPY, agreement_id, agreement.participant.interview, name, pdf)


def make_arrival_receipt(arrival_id: int) -> Output:
    """The receipt for files that arrived and are not yet accepted, as a PDF, from the snapshot of the hand-in."""
    arrival = _arrival(arrival_id)
    pdf = arrival_pdf(_arrival_paper(arrival))
    name = f"arrival-receipt-{arrival.number}.pdf"
    return _make_paper(OutputKind.ARRIVAL_RECEIPT, arrival_id, arrival.interview, name, pdf)


def release_form(form: ReleaseForm) -> bytes:
    """A release form as a PDF. It is not kept: the same form gives the same bytes. Raises Refused."""
    try:
        return release_form_pdf(_form_to_sign(form))
    except NotPrintable as error:
        raise Refused(
            "This wording has letters that cannot be printed here, so it is signed on the screen. Ask the library."
        ) from error


def make_receipt(accession_id: int) -> Output:
    """The acceptance receipt, as a PDF, from the register's snapshot."""
    accession = _accession(accession_id)
    pdf = receipt_pdf(_receipt_paper(accession))
    return _make_paper(OutputKind.RECEIPT, accession_id, accession.interview, f"receipt-{accession.number}.pdf", pdf)


def keep(
    kind: OutputKind, subject_id: object, interview: Interview, file: StoredFile, action: Action, **details: Any
) -> Output:
    """Say that something was made, once."""
    with transaction.atomic():
        output, new = Output.objects.get_or_create(
            kind=kind, subject_id=str(subject_id), defaults={"interview": interview, "file": file}
        )
        if new:
            told = {"kind": kind, "sha256": file.sha256, **details}
            record(actor=None, action=action, subject=output, thread=interview, **told)
    return output


def id_of(kind: OutputKind, subject_id: object) -> UUID:
    """Always the same for one thing, so that work done twice is stored once."""
    return uuid5(NAMESPACE_URL, f"{kind}:{subject_id}")


def existing(kind: str, subject_id: object) -> Output | None:
    return Output.objects.select_related("file").filter(kind=kind, subject_id=str(subject_id)).first()


def paper_told(paper: Output) -> Receipt | ArrivalReceipt | SignedRelease:
    """What a paper says, for a page that says the same: every letter of it, and for every reader."""
    return TOLD[OutputKind(paper.kind)](int(paper.subject_id))


def receipt_of(interview: Interview) -> Output | None:
    """The receipt of the acceptance that stands, once it has been made."""
    accession = register.standing(interview)
    return existing(OutputKind.RECEIPT, accession.pk) if accession else None


def arrival_papers(interview: Interview) -> list[ArrivalPaper]:
    """The interview's arrivals, the latest first; each but the first replaces the one after it."""
    made = interview.outputs.select_related("file").filter(kind=OutputKind.ARRIVAL_RECEIPT)
    papers = {paper.subject_id: paper for paper in made}
    return [ArrivalPaper(arrival, papers.get(str(arrival.pk))) for arrival in interview.arrivals.order_by("-id")]


def check_url(number: str) -> str:
    """Where anyone may check a paper by its number."""
    return site_url("narrator:check-paper", number)


def site_url(name: str, *args: object) -> str:
    """The address of a page for papers and messages, which have no request to take it from."""
    return settings.SITE_URL.rstrip("/") + reverse(name, args=args)


def _make_paper(kind: OutputKind, subject_id: int, interview: Interview, name: str, pdf: bytes) -> Output:
    made = existing(kind, subject_id)
    if made:
        return made
    pdf = _signed_by_the_library(pdf, f"{OutputKind(kind).label} {name.removesuffix('.pdf')}")
    file = files.keep_bytes(pdf, file_id=id_of(kind, subject_id), name=name, media_type=PDF)
    return keep(kind, subject_id, interview, file, Action.PAPER_MADE)


def _signed_by_the_library(pdf: bytes, what: str) -> bytes:
    certificate = certificates.in_force()
    pem = certificate.certificate_pem + certificate.others_pem
    own, *others = (found.public_bytes(Encoding.DER) for found in load_pem_x509_certificates(pem.encode()))
    credentials = Credentials(own, certificates.key_of(certificate), tuple(others))
    library = libraries.current()
    return sealed(pdf, credentials, reason=what, place=library.place, stamp_url=settings.PAPER_STAMP_URL)


def _library() -> Library:
    ours = libraries.current()
    logo = None
    if ours.logo:
        with serving.open_copy(ours.logo) as copy:
            logo = copy.read()
    return Library(name=ours.name, room=ours.room_and_place, contact=ours.contact_lines, logo_png=logo)


def _release_paper(release: Release) -> SignedRelease:
    signature = _on_paper(release.signed_form) if release.signed_form else _on_screen(release)
    signed = _signed_paper(release, release.wording, signature)
    return replace(signed, restriction=chosen(release).sentence(), choices=_chosen(release))


def _agreement_paper(agreement: Agreement) -> SignedRelease:
    assert agreement.wording is not None, "the constraint agreement_is_spoken_or_signed_in_a_session"
    return replace(_signed_paper(agreement, agreement.wording, _on_screen(agreement)), kind=AGREEMENT_KIND)


def _signed_paper(signed: Release | Agreement, wording: Wording, signature: OnScreen | OnPaper) -> SignedRelease:
    """What both say."""
    described = signed.interview_as_described
    return SignedRelease(
        number=signed.number,
        check_url=check_url(signed.number),
        library=_library(),
        interview=described["title"],
        recorded_on=date.fromisoformat(described["recorded_on"]),
        place=described["place"],
        signer=signed.signer_name,
        role=signed.participant.get_role_display(),
        wording_title=wording.title,
        wording_version=str(wording.version),
        wording_language=wording.language_name,
        wording_text=signed.wording_text,
        wording_sha256=signed.wording_sha256,
        restriction="",
        choices=(),
        signature=signature,
    )


def _chosen(release: Release) -> tuple[str, ...]:
    name = "My name is withheld." if release.name_withheld else "My name may be shown."
    licence = f"Others may use it under this licence: {release.get_licence_display()}." if release.licence else ""
    return tuple(filter(None, [name, licence]))


def _on_screen(release: Release | Agreement) -> OnScreen:
    assert release.session is not None, "the constraints say: signed in a session, or on paper, or spoken"
    assert release.signed_at is not None, "the same"
    assert release.consented_at is not None, "the same"
    return OnScreen(
        method=release.method,
        typed_name=release.typed_name,
        signature_png=bytes(release.signature_png) if release.signature_png else None,
        signed_at=release.signed_at,
        consented_to_electronic_at=release.consented_at,
        address=release.address or "not known",
        agent=release.agent,
        opened_by=release.session.opened_by.name,
        by_link=release.session.link_id is not None,
    )


def _arrival_paper(arrival: Arrival) -> ArrivalReceipt:
    arrived = arrival.snapshot
    return ArrivalReceipt(
        number=arrival.number,
        replaces=arrival.replaces.number if arrival.replaces else "",
        check_url=check_url(arrival.number),
        library=_library(),
        handed_in_at=timezone.localtime(arrival.at),
        handed_in_by=arrived["handed_in_by"],
        given_by=arrived["given_by"],
        title=arrived["title"],
        collection=arrived["collection"],
        narrators=tuple(arrived["narrators"]),
        recorded_on=date.fromisoformat(arrived["recorded_on"]),
        place=arrived["place"],
        files=tuple(_arrived_file(file) for file in arrived["files"]),
        may_be_cleared=arrived["may_be_cleared"],
        still_open=tuple(arrived["open"]),
    )


def _arrived_file(file: dict) -> ArrivedFile:
    return ArrivedFile(
        label=file["label"],
        name=file["name"],
        bytes=file["bytes"],
        sha256=file["sha256"],
        arrived_at=timezone.localtime(datetime.fromisoformat(file["arrived_at"])),
    )


def _on_paper(signed: SignedForm) -> OnPaper:
    assert signed.handed_in_by is not None, "the constraint form_says_who_handed_it_in"
    assert signed.handed_in_at is not None, "the constraint form_says_who_handed_it_in"
    assert signed.decided_by is not None, "the constraint decided_form_says_by_whom"
    assert signed.decided_at is not None, "the constraint decided_form_says_by_whom"
    return OnPaper(
        form_number=signed.form.number,
        signed_on=signed.signed_on,
        signed_by=signed.signed_by,
        handed_in_by=signed.handed_in_by.name,
        handed_in_at=signed.handed_in_at,
        confirmed_by=signed.decided_by.name,
        confirmed_at=signed.decided_at,
        scans=tuple(_scanned_page(scan.file) for scan in scans_of(signed) if scan.file),
    )


def _scanned_page(file: StoredFile) -> ScannedPage:
    with storage.local_path(file.key) as path:
        return ScannedPage(file.name, file.bytes, file.sha256, picture_of(path, file.media_type))


def _form_to_sign(form: ReleaseForm) -> FormToSign:
    described = form.interview_as_described
    open_to = [Access.OPEN.label, Access.ON_SITE.label]
    return FormToSign(
        number=form.number,
        check_url=check_url(form.number),
        library=_library(),
        interview=described["title"],
        recorded_on=date.fromisoformat(described["recorded_on"]),
        place=described["place"],
        signer=form.signer,
        role=form.participant.get_role_display(),
        wording_title=form.wording.title,
        wording_version=str(form.wording.version),
        wording_language=form.wording.language_name,
        wording_itself=form.wording.text,
        wording_text=form.text,
        wording_sha256=digest_of_text(form.text),
        licences=tuple(f"{licence.label}." for licence in Licence) if form.wording.offers_licences else (),
        choices=tuple(f"{label}." for label in open_to),
        closed_choice=f"{Access.CLOSED.label}.",
        printed_at=form.printed_at,
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
        attachments=tuple(_receipt_attachment(attachment) for attachment in taken["attachments"]),
        terms=tuple(_signed_terms(terms) for terms in taken["terms"]),
        restriction=taken["restriction"],
        next_steps=NEXT_STEPS,
    )


def _signed_terms(terms: dict) -> SignedTerms:
    return SignedTerms(
        signer=terms["signer"],
        role=terms["role"],
        wording=terms["wording"],
        signed=_signed(terms),
        restriction=terms["restriction"],
    )


def _signed(terms: dict) -> str:
    paper = terms["paper"]
    if not paper:
        return f"Signed {words.moment(datetime.fromisoformat(terms['signed_at']))}."
    signed_on, confirmed_at = date.fromisoformat(terms["signed_on"]), datetime.fromisoformat(paper["confirmed_at"])
    return (
        f"Signed by hand on form {paper['form']}, {words.day(signed_on)}; confirmed by {paper['confirmed_by']}, "
        f"{words.moment(confirmed_at)}."
    )


def _receipt_attachment(taken: dict) -> ReceiptAttachment:
    return ReceiptAttachment(**{name: taken[name] for name in ("kind", "caption", "name", "bytes", "sha256")})


def _release(pk: int) -> Release:
    return Release.objects.select_related(
        "participant__interview",
        "participant__person",
        "wording",
        "session__opened_by",
        "signed_form__form",
        "signed_form__handed_in_by",
        "signed_form__decided_by",
    ).get(pk=pk)


def _agreement(pk: int) -> Agreement:
    return Agreement.objects.select_related(
        "participant__interview", "wording", "session__opened_by", "session__link"
    ).get(pk=pk)


def _arrival(pk: int) -> Arrival:
    return Arrival.objects.select_related("interview", "replaces").get(pk=pk)


def _accession(pk: int) -> Accession:
    return Accession.objects.select_related("interview", "accepted_by").get(pk=pk)


TOLD: dict[OutputKind, Callable[[int], Receipt | ArrivalReceipt | SignedRelease]] = {
    OutputKind.RELEASE_COPY: lambda pk: _release_paper(_release(pk)),
    OutputKind.AGREEMENT_COPY: lambda pk: _agreement_paper(_agreement(pk)),
    OutputKind.ARRIVAL_RECEIPT: lambda pk: _arrival_paper(_arrival(pk)),
    OutputKind.RECEIPT: lambda pk: _receipt_paper(_accession(pk)),
}
