"""Make a paper, once a version: from what it says to a PDF signed by the library, stored and told of."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from cryptography.hazmat.primitives.serialization import Encoding
from cryptography.x509 import load_pem_x509_certificates
from django.conf import settings
from django.utils import timezone

from intake.audit.actions import Action
from intake.errors import Refused
from intake.files import services as files
from intake.interviews.models import Interview, Part
from intake.library import certificates
from intake.library import services as libraries
from intake.outputs import paper_data
from intake.outputs.models import Letter, Output, OutputKind, Reissue
from intake.outputs.names import safe_name
from intake.outputs.paper.arrival import ArrivalReceipt, arrival_pdf
from intake.outputs.paper.letter import WrittenLetter, letter_pdf
from intake.outputs.paper.printed_form import NotPrintable, printed_form_pdf
from intake.outputs.paper.quality import QualityReport, quality_pdf
from intake.outputs.paper.receipt import Receipt, receipt_pdf
from intake.outputs.paper.release import SignedRelease, release_pdf
from intake.outputs.paper.seal import Credentials, sealed
from intake.outputs.paper.style import Issue
from intake.outputs.paper_data import Edition
from intake.outputs.services import existing, id_of, keep
from intake.register.models import Accession, Arrival
from intake.releases.models import Agreement, PrintedForm, Release

PDF = "application/pdf"
Told = SignedRelease | ArrivalReceipt | Receipt | WrittenLetter | QualityReport


@dataclass(frozen=True)
class Paper:
    """How one kind of paper comes about: whose it is, what it says, its PDF, and the stem of its file's name."""

    interview_of: Callable[[str], Interview]
    told: Callable[[str, Edition], Any]
    pdf: Callable[[Any], bytes]
    stem: Callable[[Any], str]


def make_paper(kind: OutputKind, subject_id: object) -> Output:
    """The first version of a paper."""
    return _make(kind, str(subject_id), Edition())


def make_again(reissue_id: int) -> Output:
    """The version of a paper that somebody asked for."""
    reissue = Reissue.objects.get(pk=reissue_id)
    return _make(OutputKind(reissue.kind), reissue.subject_id, _edition(reissue))


def paper_told(paper: Output) -> Told:
    """What a paper says, for a page that says the same: every letter of it, and for every reader."""
    known = Reissue.objects.filter(kind=paper.kind, subject_id=paper.subject_id, version=paper.version).first()
    told: Told = KINDS[OutputKind(paper.kind)].told(paper.subject_id, _edition(known) if known else Edition())
    return told


def printed_form(form: PrintedForm) -> bytes:
    """A form to be signed by hand, as a PDF. It is not kept: the same form gives the same bytes. Raises Refused."""
    try:
        return printed_form_pdf(paper_data.form_to_sign(form))
    except NotPrintable as error:
        raise Refused(
            "This wording has letters that cannot be printed here, so it is signed on the screen. Ask the library."
        ) from error


def _edition(reissue: Reissue) -> Edition:
    issue = Issue(version=reissue.version, at=timezone.localtime(reissue.asked_at), because=reissue.reason)
    return Edition(issue, reissue.words)


def _make(kind: OutputKind, subject_id: str, edition: Edition) -> Output:
    version = edition.issue.version
    made = existing(kind, subject_id, version=version)
    if made:
        return made
    paper = KINDS[kind]
    told = paper.told(subject_id, edition)
    stem = safe_name(paper.stem(told)) + (f"-version-{version}" if version > 1 else "")
    pdf = _signed_by_the_library(paper.pdf(told), f"{kind.label} {stem}")
    file = files.keep_bytes(pdf, file_id=id_of(kind, subject_id, version), name=f"{stem}.pdf", media_type=PDF)
    return keep(kind, subject_id, paper.interview_of(subject_id), file, Action.PAPER_MADE, version=version)


def _signed_by_the_library(pdf: bytes, what: str) -> bytes:
    certificate = certificates.in_force()
    pem = certificate.certificate_pem + certificate.others_pem
    own, *others = (found.public_bytes(Encoding.DER) for found in load_pem_x509_certificates(pem.encode()))
    credentials = Credentials(own, certificates.key_of(certificate), tuple(others))
    library = libraries.current()
    return sealed(pdf, credentials, reason=what, place=library.place, stamp_url=settings.PAPER_STAMP_URL)


def _signed_by(model: type[Release] | type[Agreement]) -> Callable[[str], Interview]:
    def interview_of(pk: str) -> Interview:
        return model.objects.select_related("participant__interview").get(pk=pk).participant.interview

    return interview_of


def _about(model: type[Arrival] | type[Accession] | type[Letter]) -> Callable[[str], Interview]:
    return lambda pk: model.objects.select_related("interview").get(pk=pk).interview


KINDS: dict[OutputKind, Paper] = {
    OutputKind.RELEASE_COPY: Paper(
        _signed_by(Release), paper_data.release_copy, release_pdf, lambda told: f"release-{told.number}"
    ),
    OutputKind.AGREEMENT_COPY: Paper(
        _signed_by(Agreement), paper_data.agreement_copy, release_pdf, lambda told: f"agreement-{told.number}"
    ),
    OutputKind.ARRIVAL_RECEIPT: Paper(
        _about(Arrival), paper_data.arrival_receipt, arrival_pdf, lambda told: f"arrival-receipt-{told.number}"
    ),
    OutputKind.RECEIPT: Paper(
        _about(Accession), paper_data.receipt, receipt_pdf, lambda told: f"receipt-{told.accession_number}"
    ),
    OutputKind.LETTER: Paper(
        _about(Letter), paper_data.letter, letter_pdf, lambda told: f"{told.kind}-{told.written_at.date()}"
    ),
    OutputKind.QUALITY_REPORT: Paper(
        lambda subject: Part.objects.select_related("interview").get(pk=subject.split("/")[1]).interview,
        paper_data.quality_report,
        quality_pdf,
        lambda told: f"quality-report-{told.number}-{told.part}".lower(),
    ),
}
