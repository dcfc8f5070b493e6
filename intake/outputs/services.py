"""Say what was made, once, and find it again; and the addresses that papers and messages name."""

from dataclasses import dataclass
from typing import Any
from uuid import NAMESPACE_URL, UUID, uuid5

from django.conf import settings
from django.db import transaction
from django.urls import reverse

from intake.audit.actions import Action
from intake.audit.services import record
from intake.files.models import StoredFile
from intake.interviews.models import Interview
from intake.outputs.models import Output, OutputKind
from intake.register import services as register
from intake.register.models import Arrival


@dataclass(frozen=True)
class ArrivalPaper:
    """One arrival and its receipt; None while that is being made."""

    arrival: Arrival
    paper: Output | None


def keep(
    kind: OutputKind,
    subject_id: object,
    interview: Interview,
    file: StoredFile,
    action: Action,
    *,
    version: int = 1,
    **details: Any,
) -> Output:
    """Say that something was made, once."""
    with transaction.atomic():
        output, new = Output.objects.get_or_create(
            kind=kind, subject_id=str(subject_id), version=version, defaults={"interview": interview, "file": file}
        )
        if new:
            told = {"kind": kind, "sha256": file.sha256, **({"version": version} if version > 1 else {}), **details}
            record(actor=None, action=action, subject=output, thread=interview, **told)
    return output


def id_of(kind: OutputKind, subject_id: object, version: int = 1) -> UUID:
    """Always the same for one thing, so that work done twice is stored once."""
    return uuid5(NAMESPACE_URL, f"{kind}:{subject_id}" + (f":{version}" if version > 1 else ""))


def existing(kind: str, subject_id: object, *, version: int | None = None) -> Output | None:
    """What was made of a subject: this version of it, or the newest."""
    made = Output.objects.select_related("file").filter(kind=kind, subject_id=str(subject_id))
    return (made.filter(version=version) if version else made.order_by("-version")).first()


def receipt_of(interview: Interview) -> Output | None:
    """The receipt of the acceptance that stands, once it has been made."""
    accession = register.standing(interview)
    return existing(OutputKind.RECEIPT, accession.pk) if accession else None


def arrival_papers(interview: Interview) -> list[ArrivalPaper]:
    """The interview's arrivals, the latest first; each but the first replaces the one after it."""
    made = interview.outputs.select_related("file").filter(kind=OutputKind.ARRIVAL_RECEIPT).order_by("version")
    papers = {paper.subject_id: paper for paper in made}
    return [ArrivalPaper(arrival, papers.get(str(arrival.pk))) for arrival in interview.arrivals.order_by("-id")]


def check_url(number: str) -> str:
    """Where anyone may check a paper by its number."""
    return site_url("narrator:check-paper", number)


def site_url(name: str, *args: object) -> str:
    """The address of a page for papers and messages, which have no request to take it from."""
    return settings.SITE_URL.rstrip("/") + reverse(name, args=args)
