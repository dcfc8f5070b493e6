"""Descriptions as a table: one interview a line, for spreadsheets and for systems that take in nothing else."""

import csv
import io
from collections.abc import Iterable

from intake.catalogue.languages import iso639_3
from intake.outputs.records.described import Described, Role

COLUMNS = (
    "identifier", "title", "narrators", "interviewers", "interpreters", "transcribers", "recordists", "also_heard",
    "people_spoken_of", "names_withheld", "recorded_on", "place", "languages", "summary", "subjects",
    "places_spoken_of", "periods", "outline", "collection", "seconds", "files", "access", "closed_until", "rights",
    "accepted_on", "library",
)  # fmt: skip
BETWEEN = "; "
# SECURITY: a spreadsheet takes a cell that begins so for a formula, whoever wrote it.
FORMULA = ("=", "+", "-", "@", "\t", "\r")


def table(records: Iterable[Described]) -> str:
    """UTF-8 with a mark at its beginning, by which spreadsheets know it."""
    written = io.StringIO()
    lines = csv.writer(written)
    lines.writerow(COLUMNS)
    for said in records:
        lines.writerow([_harmless(cell) for cell in _line(said)])
    return "\ufeff" + written.getvalue()


def _line(said: Described) -> list[str]:
    return [
        said.identifier,
        said.title,
        *(BETWEEN.join(said.named(role)) for role in (*Role, None)),
        BETWEEN.join(said.withheld),
        said.recorded_on.isoformat(),
        said.place,
        BETWEEN.join(map(iso639_3, said.languages)),
        said.summary,
        BETWEEN.join(point.label for point in said.subjects),
        BETWEEN.join(point.label for point in said.places_spoken_of),
        BETWEEN.join(said.periods),
        BETWEEN.join(f"{topic.at} {topic.words}" for topic in said.outline),
        said.collection,
        "" if said.seconds is None else f"{said.seconds:.3f}",
        BETWEEN.join(file.told for file in said.files),
        said.terms,
        said.closed_until.isoformat() if said.closed_until else "",
        BETWEEN.join(said.rights),
        said.accepted_on.isoformat(),
        said.publisher,
    ]


def _harmless(cell: str) -> str:
    return f"'{cell}" if cell.startswith(FORMULA) else cell
