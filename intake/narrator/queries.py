"""What may be told to anybody who holds a paper's number."""

from dataclasses import dataclass
from datetime import datetime
from typing import cast

from intake.codes import normal_code
from intake.outputs.models import OutputKind
from intake.outputs.services import existing
from intake.register.models import Accession
from intake.releases.models import Release, ReleaseForm


@dataclass(frozen=True)
class Paper:
    """A paper that was made here. `sha256` is that of the PDF; empty while it is being made."""

    title: str
    at: datetime
    stands: bool
    accession: str
    sha256: str


def paper_behind(number: str) -> Paper | None:
    """The receipt, release or release form with this number, however it was typed; None if there is none."""
    wanted = _as_printed(number)
    accession = Accession.objects.filter(receipt_number=wanted).first()
    if accession:
        sha256 = _sha256(OutputKind.RECEIPT, accession.pk)
        return Paper("Acceptance receipt", accession.accepted_at, True, accession.number, sha256)
    release = Release.objects.select_related("signed_form").filter(number=wanted).first()
    if release:
        sha256 = _sha256(OutputKind.RELEASE_COPY, release.pk)
        made_at = release.signed_form.decided_at if release.signed_form else release.signed_at
        return Paper("Signed release", cast("datetime", made_at), release.withdrawn_at is None, "", sha256)
    form = ReleaseForm.objects.filter(number=wanted).first()
    if form:
        return Paper("Release form, to be signed by hand", form.printed_at, True, "", "")
    return None


def _as_printed(typed: str) -> str:
    letters = "".join(sign for sign in typed.upper() if sign.isalnum())
    return f"{letters[:1]}-{normal_code(letters[1:])}"


def _sha256(kind: str, subject_id: int) -> str:
    made = existing(kind, subject_id)
    return made.file.sha256 if made else ""
