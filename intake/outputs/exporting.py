"""Exports of descriptions for other systems: one interview, a selection or all, in the formats that catalogues read."""

import io
import zipfile
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from intake.access.policy import Act, Audience, may
from intake.access.services import terms_at_hand
from intake.accounts.models import User
from intake.audit.actions import Action
from intake.audit.services import record
from intake.catalogue.models import TimedText
from intake.errors import Refused
from intake.interviews.models import Collection
from intake.library import services as libraries
from intake.outputs.describing import accepted, described
from intake.outputs.names import safe_name
from intake.outputs.records.described import Described
from intake.outputs.records.dublin_core import dublin_core
from intake.outputs.records.marc import marc, marcxml
from intake.outputs.records.mods import mods
from intake.outputs.records.table import table
from intake.outputs.texts import files_told
from intake.register.models import Accession

# The same bytes for the same records: a ZIP archive's own beginning of time.
NO_TIME = (1980, 1, 1, 0, 0, 0)
NOTHING = "None of these interviews is accepted and may be told of there, so there is nothing to export."
NO_WORDS = (
    "None of these interviews has an outline or a transcript that may be told there, so there is nothing to export."
)


@dataclass(frozen=True)
class Format:
    """One format: what people call it, its media type, the ending of its files, and how accessions become bytes.

    `act` is what anybody must be allowed for an interview to be in a public one; `of_words` leaves out interviews
    without an outline or a transcript.
    """

    label: str
    media_type: str
    ending: str
    write: Callable[[list[Accession]], bytes]
    act: Act = Act.SEE
    of_words: bool = False


def _records(write: Callable[[list[Described]], bytes]) -> Callable[[list[Accession]], bytes]:
    return lambda accessions: write(list(described(accessions)))


def _dublin_core(records: list[Described]) -> bytes:
    """One file for each interview: unqualified Dublin Core has no container of its own for many."""
    return _packed((f"{safe_name(said.identifier)}.xml", dublin_core(said)) for said in records)


def _words(accessions: list[Accession]) -> bytes:
    """A folder for each interview."""
    return _packed(
        (f"{safe_name(accession.number)}/{file.name}", file.content)
        for accession in accessions
        for file in files_told(accession.interview)
    )


def _packed(files: Iterable[tuple[str, bytes]]) -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files:
            archive.writestr(zipfile.ZipInfo(name, NO_TIME), content)
    return packed.getvalue()


FORMATS = {
    "marc": Format(
        "MARC 21 (ISO 2709)", "application/marc", "mrc", _records(lambda records: b"".join(map(marc, records)))
    ),
    "marcxml": Format("MARCXML", "application/marcxml+xml", "xml", _records(marcxml)),
    "mods": Format("MODS 3.8", "application/mods+xml", "xml", _records(mods)),
    "dublin-core": Format("Dublin Core (a ZIP of XML files)", "application/zip", "zip", _records(_dublin_core)),
    "csv": Format("CSV, for spreadsheets", "text/csv", "csv", _records(lambda records: table(records).encode())),
    "webvtt": Format(
        "Outlines and transcripts (a ZIP of WebVTT files)",
        "application/zip",
        "zip",
        _words,
        act=Act.HEAR,
        of_words=True,
    ),
}


@dataclass(frozen=True)
class Wanted:
    """What is exported: all accepted interviews, those of a collection, or some; for the public or for the house."""

    interviews: list[int] | None
    collection: Collection | None
    is_public: bool


@transaction.atomic
def export(name: str, wanted: Wanted, *, actor: User) -> tuple[bytes, int]:
    """The file in one of FORMATS, and how many interviews are in it. Raises Refused where there are none.

    For the public those that anybody may know of at this moment, or hear for what is said in them; for the house
    closed ones too, which say so.
    """
    kind = FORMATS[name]
    chosen = [one for one in _wanted(wanted, kind) if not wanted.is_public or is_public(one, kind.act)]
    if not chosen:
        raise Refused(NO_WORDS if kind.of_words else NOTHING)
    record(
        actor=actor,
        action=Action.DESCRIPTIONS_EXPORTED,
        subject=libraries.current(),
        format=name,
        is_public=wanted.is_public,
        accessions=[accession.number for accession in chosen],
    )
    return kind.write(chosen), len(chosen)


def is_public(accession: Accession, act: Act = Act.SEE) -> bool:
    """SECURITY: asked of the interview as it was fetched for this answer, for every record that leaves."""
    terms = terms_at_hand(accession.interview, on=timezone.localdate())
    return may(Audience.PUBLIC, act, terms).allowed


def _wanted(wanted: Wanted, kind: Format) -> QuerySet[Accession]:
    found = accepted()
    if kind.of_words:
        found = found.filter(interview__in=TimedText.objects.exclude(cues=None).values("interview"))
    if wanted.interviews is not None:
        found = found.filter(interview__in=wanted.interviews)
    return found.filter(interview__collection=wanted.collection) if wanted.collection else found
