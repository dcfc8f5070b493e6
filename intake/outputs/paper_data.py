"""What each paper says, gathered from the rows; nothing here makes a PDF."""

from collections.abc import Collection
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from typing import Any

from django.utils import timezone

from intake.files import serving, storage
from intake.files.models import StoredFile
from intake.interviews.models import Interview, Part, Participant
from intake.library import services as libraries
from intake.library.placeholders import day_in
from intake.outputs import naming
from intake.outputs.models import Letter
from intake.outputs.paper import words
from intake.outputs.paper.arrival import ArrivalReceipt, ArrivedFile
from intake.outputs.paper.letter import WrittenLetter
from intake.outputs.paper.printed_form import FormToSign
from intake.outputs.paper.quality import Heard, Place, QualityReport
from intake.outputs.paper.receipt import Receipt, ReceiptAttachment, ReceiptPart, SignedTerms
from intake.outputs.paper.release import AGREEMENT_KIND, OnPaper, OnScreen, ScannedPage, SignedRelease
from intake.outputs.paper.scan import pictures_of
from intake.outputs.paper.style import FIRST_ISSUE, Issue, Library
from intake.outputs.services import check_url
from intake.qc.models import QCReport
from intake.register.models import Accession, Arrival
from intake.register.services import standing
from intake.releases.models import (
    Access,
    Agreement,
    Licence,
    Moment,
    PrintedForm,
    Release,
    SignedForm,
    Wording,
)
from intake.releases.paper_forms import scans_of
from intake.releases.restrictions import chosen
from intake.releases.wordings import digest_of_text

NEXT_STEPS = (
    "Your recording is now in the library's keeping and waits to be described in the catalogue. "
    "You may ask for a copy, ask to hear it again, or ask the library about withdrawing it, at the address above."
)


@dataclass(frozen=True)
class Edition:
    """Which version of a paper is told, and what it says otherwise than the first did."""

    issue: Issue = FIRST_ISSUE
    words: dict[str, Any] = field(default_factory=dict)


def release_copy(subject: str, edition: Edition) -> SignedRelease:
    release = Release.objects.select_related(
        "participant__interview",
        "participant__person",
        "wording",
        "session__opened_by",
        "signed_form__form",
        "signed_form__handed_in_by",
        "signed_form__decided_by",
    ).get(pk=subject)
    signature = _on_paper(release.signed_form) if release.signed_form else _on_screen(release)
    signed = _signed_paper(release, release.wording, signature, edition)
    return replace(signed, restriction=chosen(release).sentence(), choices=_chosen(release))


def agreement_copy(subject: str, edition: Edition) -> SignedRelease:
    agreement = Agreement.objects.select_related(
        "participant__interview",
        "wording",
        "session__opened_by",
        "session__link",
        "signed_form__form",
        "signed_form__handed_in_by",
        "signed_form__decided_by",
    ).get(pk=subject)
    assert agreement.wording is not None, "what was given aloud has no copy on paper"
    signature = _on_paper(agreement.signed_form) if agreement.signed_form else _on_screen(agreement)
    signed = _signed_paper(agreement, agreement.wording, signature, edition)
    return replace(signed, kind=AGREEMENT_KIND)


def arrival_receipt(subject: str, edition: Edition) -> ArrivalReceipt:
    arrival = Arrival.objects.select_related("interview", "replaces").get(pk=subject)
    withheld = arrival.snapshot["withheld"]
    arrived = _without(withheld, arrival.snapshot)
    return ArrivalReceipt(
        number=arrival.number,
        replaces=arrival.replaces.number if arrival.replaces else "",
        check_url=check_url(arrival.number),
        library=library(),
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
        names_left_out=bool(withheld),
        issue=edition.issue,
    )


def receipt(subject: str, edition: Edition) -> Receipt:
    """What the register took down at the acceptance; a later version names things as they are called by then."""
    accession = Accession.objects.select_related("interview", "accepted_by").get(pk=subject)
    withheld = {terms["signer"] for terms in accession.snapshot["terms"] if terms["name_withheld"]}
    taken = _without(withheld, accession.snapshot) | edition.words
    return Receipt(
        number=accession.receipt_number,
        check_url=check_url(accession.receipt_number),
        issued_at=edition.issue.at or accession.accepted_at,
        library=library(),
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
        names_left_out=bool(withheld),
        issue=edition.issue,
    )


def letter(subject: str, edition: Edition) -> WrittenLetter:
    written = Letter.objects.select_related("interview", "person").get(pk=subject)
    accession = standing(written.interview)
    at = edition.issue.at or timezone.localtime(written.written_at)
    return WrittenLetter(
        kind=written.get_kind_display(),
        number=accession.number if accession else "",
        library=library(),
        to=written.person.name,
        dated=day_in(written.language, at.date()),
        written_at=timezone.localtime(written.written_at),
        language=written.language,
        text=edition.words.get("text", written.text),
        issue=edition.issue,
    )


def quality_report(subject: str, edition: Edition) -> QualityReport:
    """The subject is "report/part": one file may have been handed in as more than one part."""
    report_id, part_id = subject.split("/")
    report = QCReport.objects.defer(None).select_related("file").get(pk=report_id)
    part = Part.objects.select_related("interview").get(pk=part_id)
    accession = standing(part.interview)
    measured = report.measurement["format"] if report.measurement else None
    return QualityReport(
        library=library(),
        number=accession.number if accession else "",
        title=naming.title_told(part.interview),
        part=f"Part {part.position}" if part.position else "Taken out",
        file=report.file.name,
        sha256=report.file.sha256,
        bytes=report.file.bytes,
        format=report.format_in_words,
        seconds=measured["seconds"] if measured else None,
        verdict=report.verdict,
        standing=report.standing,
        unreadable=report.unreadable,
        heard=tuple(_heard(finding) for finding in report.findings),
        peaks=tuple(tuple(channel) for channel in report.series["waveform"]["peaks"]) if report.series else (),
        measured_at=timezone.localtime(report.measured_at),
        measured_with=f"audio_qc {report.audio_qc_version}",
        profile=report.profile,
        issue=edition.issue,
    )


def form_to_sign(form: PrintedForm) -> FormToSign:
    described = form.interview_as_described
    open_to = [Access.OPEN.label, Access.ON_SITE.label]
    return FormToSign(
        number=form.number,
        check_url=check_url(form.number),
        library=library(),
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
        choices=() if form.moment == Moment.AGREEMENT else tuple(f"{label}." for label in open_to),
        closed_choice=f"{Access.CLOSED.label}.",
        printed_at=form.printed_at,
    )


def library() -> Library:
    ours = libraries.current()
    logo = None
    if ours.logo:
        with serving.open_copy(ours.logo) as copy:
            logo = copy.read()
    return Library(name=ours.name, room=ours.room_and_place, contact=ours.contact_lines, logo_png=logo)


def named_now(interview: Interview) -> dict[str, Any]:
    """How a receipt that is issued again names things: what has been put right since shows, what was accepted stays."""
    withheld = naming.people_withheld(interview)
    return {
        "title": naming.title_told(interview) if withheld else interview.title,
        "collection": interview.collection.name,
        "narrators": naming.names_told(interview, Participant.Role.NARRATOR),
        "interviewers": naming.names_told(interview, Participant.Role.INTERVIEWER),
        "recorded_on": interview.recorded_on.isoformat(),
        "place": interview.place,
        "given_by": naming.WITHHELD if interview.given_by_id in withheld else interview.given_by.name,
    }


def _without(withheld: Collection[str], taken: dict[str, Any]) -> dict[str, Any]:
    """A paper is posted and lies about: names that were promised withheld are left out of what was taken down."""
    if not withheld:
        return taken
    left = {
        f"{role}s": [f"{role}, {naming.WITHHELD}" if name in withheld else name for name in taken[f"{role}s"]]
        for role in ("narrator", "interviewer")
        if f"{role}s" in taken
    }
    people = {
        name: naming.WITHHELD for name in ("given_by", "handed_in_by") if name in taken and taken[name] in withheld
    }
    title = f"Interview with {' and '.join(left['narrators'])}, {taken['recorded_on']}"
    return taken | left | people | {"title": title}


def _heard(finding: dict[str, Any]) -> Heard:
    return Heard(
        title=finding["title"],
        standing=finding["standing"],
        value=_value(finding),
        target=finding["limit"],
        plain=finding["volunteer"] or finding["reason"],
        exact=finding["archivist"],
        source=finding["source"],
        places=tuple(Place(span["start_s"], span["end_s"]) for span in finding["spans"]),
    )


def _value(finding: dict[str, Any]) -> str:
    if finding["value"] is None:
        return finding["reason"]
    rounded = round(finding["value"], 2) + 0.0  # never "-0"
    return f"{rounded:.2f}".rstrip("0").rstrip(".") + (f" {finding['unit']}" if finding["unit"] else "")


def _signed_paper(
    signed: Release | Agreement, wording: Wording, signature: OnScreen | OnPaper, edition: Edition
) -> SignedRelease:
    """What both say."""
    described = signed.interview_as_described
    return SignedRelease(
        number=signed.number,
        check_url=check_url(signed.number),
        library=library(),
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
        issue=edition.issue,
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
        return ScannedPage(file.name, file.bytes, file.sha256, tuple(pictures_of(path, file.media_type)))


def _signed_terms(terms: dict) -> SignedTerms:
    return SignedTerms(
        signer="Name withheld" if terms["name_withheld"] else terms["signer"],
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
