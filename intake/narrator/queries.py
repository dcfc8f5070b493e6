"""What may be told to anybody who holds a paper's number."""

import hashlib
from dataclasses import dataclass
from datetime import datetime
from typing import cast

from intake.codes import normal_code
from intake.interviews.models import State
from intake.library.certificates import is_ours
from intake.outputs.models import PAPERS, Output, OutputKind
from intake.outputs.paper.seal import certificates_in, check_seal
from intake.outputs.services import existing
from intake.register.models import Accession, Arrival
from intake.releases.models import Agreement, Moment, PrintedForm, Release

ACCEPTED_SINCE = "The library has since accepted the interview; its acceptance receipt is another paper."
# What became of an interview since its files arrived, for whoever holds the arrival receipt: no number, no reason.
SINCE_ARRIVAL = {
    State.DRAFT: "The interview is with the volunteer.",
    State.RETURNED: "The interview has gone back to the volunteer since then, with a question.",
    State.SUBMITTED: "The library has not yet decided about the interview.",
    State.IN_REVIEW: "The library has not yet decided about the interview: it is being reviewed.",
    State.ACCEPTED: ACCEPTED_SINCE,
    State.CATALOGUED: ACCEPTED_SINCE,
    State.DECLINED: "The library has since declined the interview.",
    State.WITHDRAWN: "The interview has since been withdrawn.",
    State.TAKEN_DOWN: ACCEPTED_SINCE,
}


@dataclass(frozen=True)
class Paper:
    """A paper that was made here. `sha256` is that of the PDF; empty while it is being made.

    `notes` say what the paper is not, and what has become of its interview.
    """

    title: str
    at: datetime
    stands: bool
    accession: str
    sha256: str
    notes: tuple[str, ...] = ()
    undone_at: datetime | None = None


def paper_behind(number: str) -> Paper | None:
    """The paper with this number, however typed: receipt, release, agreement or form; None if there is none."""
    wanted = _as_printed(number)
    accession = Accession.objects.filter(receipt_number=wanted).first()
    if accession:
        sha256, replaced = _newest(OutputKind.RECEIPT, accession.pk)
        return Paper(
            "Acceptance receipt",
            accession.accepted_at,
            accession.stands,
            accession.number,
            sha256,
            replaced,
            undone_at=accession.undone_at,
        )
    arrival = Arrival.objects.select_related("interview").filter(number=wanted).first()
    if arrival:
        sha256, replaced = _newest(OutputKind.ARRIVAL_RECEIPT, arrival.pk)
        return Paper("Arrival receipt", arrival.at, True, "", sha256, _since(arrival) + replaced)
    release = Release.objects.select_related("signed_form").filter(number=wanted).first()
    if release:
        sha256, replaced = _newest(OutputKind.RELEASE_COPY, release.pk)
        made_at = release.signed_form.decided_at if release.signed_form else release.signed_at
        return Paper("Signed release", cast("datetime", made_at), release.withdrawn_at is None, "", sha256, replaced)
    agreement = Agreement.objects.filter(number=wanted).first()
    if agreement:
        sha256, replaced = _newest(OutputKind.AGREEMENT_COPY, agreement.pk)
        return Paper("Agreement to take part", agreement.signed_at or agreement.noted_at, True, "", sha256, replaced)
    form = PrintedForm.objects.filter(number=wanted).first()
    if form:
        title = "Agreement form" if form.moment == Moment.AGREEMENT else "Release form"
        return Paper(f"{title}, to be signed by hand", form.printed_at, True, "", "")
    return None


@dataclass(frozen=True)
class FileTold:
    """What a PDF file that somebody holds is. `is_ours`: byte for byte a paper of the library's."""

    sentence: str
    is_ours: bool


def file_told(pdf: bytes) -> FileTold:
    """It names no number and nobody: whoever holds the file can read it, and nobody else needs to."""
    sha256 = hashlib.sha256(pdf).hexdigest()
    made = Output.objects.filter(kind__in=PAPERS, file__sha256=sha256).first()
    if made:
        newest = existing(made.kind, made.subject_id)
        replaced = "" if newest == made else " A later version has replaced it: ask the library for that one."
        told = f"This file is, byte for byte, a paper that was made here. Nothing in it was changed.{replaced}"
        return FileTold(told, is_ours=True)
    # SECURITY: a file from anywhere is parsed only where it carries a signature made with a certificate of ours.
    if not any(is_ours(certificate) for certificate in certificates_in(pdf)):
        return FileTold("This file was not made here, or nothing of ours is left in it.", is_ours=False)
    fault = check_seal(pdf).fault
    if fault:
        told = f"This file was made from a paper of ours, and is not that paper any more. {fault}"
        return FileTold(told, is_ours=False)
    told = (
        "This file carries our signature, and it holds; but it is not among the papers kept here now. Ask the library."
    )
    return FileTold(told, is_ours=False)


def _since(arrival: Arrival) -> tuple[str, ...]:
    replaced = "A later arrival receipt replaces this one."
    return (
        "An arrival receipt is not an acceptance: it says that files have arrived.",
        *([replaced] if hasattr(arrival, "replaced_by") else []),
        SINCE_ARRIVAL[State(arrival.interview.state)],
    )


def _as_printed(typed: str) -> str:
    letters = "".join(sign for sign in typed.upper() if sign.isalnum())
    return f"{letters[:1]}-{normal_code(letters[1:])}"


def _newest(kind: str, subject_id: int) -> tuple[str, tuple[str, ...]]:
    """The SHA-256 of the newest version's PDF, empty while it is being made; and a note if there were earlier ones."""
    made = existing(kind, subject_id)
    if made is None:
        return "", ()
    replaced = (f"Version {made.version} is the one that holds now; it has replaced those before it.",)
    return made.file.sha256, replaced if made.version > 1 else ()
