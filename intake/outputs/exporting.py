"""Exports of descriptions for other systems: one interview, a selection or all, in the formats that catalogues read."""

import io
import zipfile
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from django.db.models import QuerySet
from django.utils import timezone

from intake.access.policy import Act, Audience, may
from intake.access.services import terms_at_hand
from intake.interviews.models import Collection
from intake.outputs.describing import accepted, described
from intake.outputs.names import safe_name
from intake.outputs.records.described import Described
from intake.outputs.records.dublin_core import dublin_core
from intake.outputs.records.marc import marc, marcxml
from intake.outputs.records.mods import mods
from intake.outputs.records.table import table
from intake.register.models import Accession

# The same bytes for the same records: a ZIP archive's own beginning of time.
NO_TIME = (1980, 1, 1, 0, 0, 0)


@dataclass(frozen=True)
class Format:
    """One format: what people call it, its media type, the ending of its files, and how records become bytes."""

    label: str
    media_type: str
    ending: str
    write: Callable[[list[Described]], bytes]


def _dublin_core(records: list[Described]) -> bytes:
    """One file for each interview: unqualified Dublin Core has no container of its own for many."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for said in records:
            archive.writestr(zipfile.ZipInfo(f"{safe_name(said.identifier)}.xml", NO_TIME), dublin_core(said))
    return packed.getvalue()


FORMATS = {
    "marc": Format("MARC 21 (ISO 2709)", "application/marc", "mrc", lambda records: b"".join(map(marc, records))),
    "marcxml": Format("MARCXML", "application/marcxml+xml", "xml", marcxml),
    "mods": Format("MODS 3.8", "application/mods+xml", "xml", mods),
    "dublin-core": Format("Dublin Core (a ZIP of XML files)", "application/zip", "zip", _dublin_core),
    "csv": Format("CSV, for spreadsheets", "text/csv", "csv", lambda records: table(records).encode()),
}


def chosen(
    *, interviews: Iterable[int] | None = None, collection: Collection | None = None, public: bool
) -> list[Described]:
    """The accepted interviews that were chosen, all if nothing is; for the public, those that anybody may know of."""
    wanted = _wanted(interviews, collection)
    return list(described(accession for accession in wanted if not public or is_public(accession)))


def is_public(accession: Accession) -> bool:
    """SECURITY: asked of the interview as it was fetched for this answer, for every record that leaves."""
    terms = terms_at_hand(accession.interview, on=timezone.localdate())
    return may(Audience.PUBLIC, Act.SEE, terms).allowed


def _wanted(interviews: Iterable[int] | None, collection: Collection | None) -> QuerySet[Accession]:
    wanted = accepted()
    if interviews is not None:
        wanted = wanted.filter(interview__in=list(interviews))
    return wanted.filter(interview__collection=collection) if collection else wanted
