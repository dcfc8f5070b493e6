"""The arrival receipt: which files arrived and when. It accepts nothing, and must never be taken for an acceptance.

Hence its frame is empty where the acceptance receipt's is filled, it names no accession number, and nobody of the
library stands behind it by name.
"""

from dataclasses import dataclass
from datetime import date, datetime

from reportlab.lib.units import mm
from reportlab.platypus import Flowable

from intake.outputs.paper import style, words
from intake.outputs.paper.fonts import printable
from intake.outputs.paper.pages import Sheet, build
from intake.outputs.paper.style import (
    FIRST_ISSUE,
    Issue,
    Library,
    fact,
    heading,
    lines,
    marked_up,
    ours,
    text_fact,
    theirs,
)

KIND = "Arrival receipt"
COLUMN_WIDTHS = (64, style.WIDTH - 64 - 96 - 86, 96, 86)

NOT_ACCEPTED_SENTENCE = (
    "This paper says that the files named below have arrived whole and are kept in two copies. It does not say that "
    "the library has accepted the interview: that is decided after an archivist has listened to it. An acceptance is "
    "another paper, the acceptance receipt."
)
MAY_BE_CLEARED_SENTENCE = (
    "Both stored copies of every file were read back and match the files on your computer. You may clear these files "
    "from the recorder's card, and no others."
)
KEEP_THE_CARD_SENTENCE = (
    "Keep the recorder's card as it is for now: when this paper was made, not every file had been looked at, or one "
    "may not be whole. The interview's page tells you when the card may be cleared."
)
NEXT_SENTENCE = (
    "An archivist listens to the interview. Then the library accepts it, sends it back to you with a question, or says "
    "why it cannot take it in. You hear of it by e-mail. Until then you can withdraw the interview on its page. Please "
    "give the number of this paper when you write, call or visit."
)
NOTHING_OPEN_SENTENCE = "Everybody named in the interview who has to sign had signed when this paper was made."


@dataclass(frozen=True)
class ArrivedFile:
    """One file that arrived: its place in the interview in words, its own name, its SHA-256; the time has a zone."""

    label: str
    name: str
    bytes: int
    sha256: str
    arrived_at: datetime


@dataclass(frozen=True)
class ArrivalReceipt:
    """Everything that an arrival receipt says. `replaces` is the number of an earlier one, empty if there is none."""

    number: str
    replaces: str
    check_url: str
    library: Library
    handed_in_at: datetime
    handed_in_by: str
    given_by: str
    title: str
    collection: str
    narrators: tuple[str, ...]
    recorded_on: date
    place: str
    files: tuple[ArrivedFile, ...]
    may_be_cleared: bool
    still_open: tuple[str, ...]
    names_left_out: bool = False
    issue: Issue = FIRST_ISSUE


def arrival_pdf(arrival: ArrivalReceipt) -> bytes:
    """The arrival receipt as a PDF; ValueError for a time without zone or a digest that is not a SHA-256."""
    sheet = Sheet(
        kind=f"{KIND} (not an acceptance)",
        number=arrival.number,
        title=f"{KIND} {arrival.number}: {arrival.title}",
        author=arrival.library.name,
        dated=arrival.handed_in_at,
        issue=arrival.issue,
    )
    return build(lambda: _story(arrival), sheet)


def _story(arrival: ArrivalReceipt) -> list[Flowable]:
    return [
        style.letterhead(
            arrival.library,
            number_label="Arrival receipt number",
            number=arrival.number,
            check_url=arrival.check_url,
            issue=arrival.issue,
        ),
        style.outlined_band(KIND, f"Arrived on {words.day(arrival.handed_in_at)}, not yet accepted."),
        *style.issued_again(arrival.issue),
        ours(NOT_ACCEPTED_SENTENCE),
        *_handed_in(arrival),
        *_files(arrival),
        *_afterwards(arrival),
    ]


def _handed_in(arrival: ArrivalReceipt) -> list[Flowable]:
    replaces = [text_fact("Replaces", f"Arrival receipt {arrival.replaces}", noun="number")] if arrival.replaces else []
    return [
        heading("What was handed in"),
        text_fact("Interview", arrival.title, noun="title"),
        text_fact("Collection", arrival.collection, noun="title"),
        fact("Narrator" if len(arrival.narrators) == 1 else "Narrators", lines(arrival.narrators)),
        fact("Recorded on", words.day(arrival.recorded_on)),
        text_fact("Place", arrival.place, noun="place"),
        text_fact("Given by", arrival.given_by, noun="name"),
        text_fact("Handed in by", arrival.handed_in_by, noun="name"),
        fact("Handed in on", words.moment(arrival.handed_in_at)),
        *replaces,
        *([ours(words.NAMES_SENTENCE, "small")] if arrival.names_left_out else []),
    ]


def _files(arrival: ArrivalReceipt) -> list[Flowable]:
    head = [
        ours("As", "cell_soft"),
        ours("File and SHA-256", "cell_soft"),
        ours("Arrived whole", "cell_soft"),
        ours("Size", "cell_soft_right"),
    ]
    rows = [_row(file) for file in arrival.files]
    return [
        *style.table_heading("The files that arrived", first_rows=45 * mm),
        style.file_table(head, rows, _total(arrival.files), COLUMN_WIDTHS),
        style.gap(6),
        ours(words.FIXITY_SENTENCE, "small"),
    ]


def _row(file: ArrivedFile) -> list[object]:
    return [
        theirs(file.label, "cell", noun="name"),
        [theirs(file.name, "cell", noun="name"), style.digest_cell(file.sha256)],
        ours(words.moment(file.arrived_at), "cell"),
        style.size_cell(file.bytes),
    ]


def _total(files: tuple[ArrivedFile, ...]) -> list[object]:
    count = "1 file in all" if len(files) == 1 else f"{len(files)} files in all"
    return [ours("", "cell"), ours(count, "cell"), ours("", "cell"), style.size_cell(sum(file.bytes for file in files))]


def _afterwards(arrival: ArrivalReceipt) -> list[Flowable]:
    bullets = [marked_up(printable(told, noun="name"), "list", bulletText="•") for told in arrival.still_open]
    return [
        style.together(
            heading("The recorder's card"),
            ours(MAY_BE_CLEARED_SENTENCE if arrival.may_be_cleared else KEEP_THE_CARD_SENTENCE),
        ),
        heading("What is still open"),
        *(bullets or [ours(NOTHING_OPEN_SENTENCE)]),
        style.together(
            heading("What happens next"),
            ours(NEXT_SENTENCE),
        ),
    ]
