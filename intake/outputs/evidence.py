"""Look at everything that proves a signature, and name what does not hold any more."""

import hashlib
from dataclasses import dataclass

from intake.audit.actions import Action
from intake.audit.models import Event
from intake.audit.services import sealed_rightly
from intake.files import serving
from intake.files.serving import FAULTS
from intake.library import certificates
from intake.outputs.models import Output, OutputKind
from intake.outputs.paper import words
from intake.outputs.paper.seal import check_seal
from intake.outputs.services import existing
from intake.releases.evidence import evidence_digest
from intake.releases.models import Agreement, Release
from intake.releases.wordings import digest_of_text

SIGNINGS = (Action.RELEASE_SIGNED, Action.FORM_CONFIRMED, Action.AGREEMENT_SIGNED, Action.AGREEMENT_NOTED)


@dataclass(frozen=True)
class Line:
    """One thing that was looked at; `fault` says what does not hold, empty if it does."""

    what: str
    fault: str = ""

    @property
    def holds(self) -> bool:
        return not self.fault


def check_evidence(signed: Release | Agreement) -> list[Line]:
    """The text, the signature and its circumstances, the event that tells of it, and the signer's copy."""
    return [_text(signed), *_event(signed), *_copy(signed)]


def _text(signed: Release | Agreement) -> Line:
    if not signed.wording_text:
        return Line("What was said is on the recording, in words of its own")
    same = digest_of_text(signed.wording_text) == signed.wording_sha256
    return Line("The text, word for word", "" if same else "The text is not the one whose SHA-256 was kept.")


def _event(signed: Release | Agreement) -> list[Line]:
    what = "Signature, choices, times and circumstances"
    event = (
        Event.objects.filter(subject_type=signed._meta.label_lower, subject_id=str(signed.pk), action__in=SIGNINGS)
        .select_related("names")
        .first()
    )
    if event is None:
        return [Line(what, "No event tells of this signature.")]
    same = event.details.get("evidence_sha256") == evidence_digest(signed)
    chained = sealed_rightly(event)
    return [
        Line(what, "" if same else "Something that was signed, or how, is not what the event of the signature tells."),
        Line(
            "The event of the signature in the chain of events",
            {None: "", True: ""}.get(chained, "The event itself is not what was sealed into the chain."),
        ),
    ]


def _copy(signed: Release | Agreement) -> list[Line]:
    kind = OutputKind.RELEASE_COPY if isinstance(signed, Release) else OutputKind.AGREEMENT_COPY
    paper = existing(kind, signed.pk)
    if paper is None:
        return []
    return check_paper(paper)


def check_paper(paper: Output) -> list[Line]:
    """The stored PDF, byte for byte, and the library's signature in it."""
    pdf = _bytes_of(paper)
    if pdf is None:
        return [Line("The PDF as it was made", "No stored copy of the PDF can be read.")]
    same = hashlib.sha256(pdf).hexdigest() == paper.file.sha256
    return [
        Line("The PDF as it was made", "" if same else "The stored PDF is not the one that was made."),
        Line(_signature_told(pdf), signature_fault(pdf)),
    ]


def _signature_told(pdf: bytes) -> str:
    stamped_at = check_seal(pdf).stamped_at
    stamp = f", its time stamped by an outside authority: {words.moment(stamped_at)}" if stamped_at else ""
    return f"The library's signature in the PDF{stamp}"


def signature_fault(pdf: bytes) -> str:
    """What is wrong with the library's signature in a PDF; empty if it holds and is the library's."""
    found = check_seal(pdf)
    if found.fault:
        return found.fault
    return (
        "" if certificates.is_ours(found.certificate_sha256) else "It was signed with a certificate that is not ours."
    )


def _bytes_of(paper: Output) -> bytes | None:
    try:
        with serving.open_copy(paper.file) as copy:
            return copy.read()
    except FAULTS:
        return None
