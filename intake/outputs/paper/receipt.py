"""The acceptance receipt: what the library has accepted, from whom, on which terms, and how to check the files."""

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

KIND = "Acceptance receipt"
COLUMN_WIDTHS = (26, style.WIDTH - 26 - 68 - 104, 68, 104)

RIGHTS_SENTENCE = (
    "You can ask the library for a copy of the interview, ask it to correct what it says about you, ask what your "
    "release allows, ask for more of the interview to be closed, or tell the library that you wish to withdraw. Please "
    "give the accession number when you write, call or visit:"
)
CAUTION_SENTENCE = (
    "The library's own counsel adapts the wording of releases to local law. This paper records what happened; it gives "
    "no legal advice."
)


@dataclass(frozen=True)
class ReceiptPart:
    """One accepted file: place in the interview (from 1), name as handed in, SHA-256 in hex, format in words.

    `seconds` is None for a file that was accepted although no sound could be read from it.
    """

    position: int
    name: str
    seconds: float | None
    bytes: int
    sha256: str
    format: str


@dataclass(frozen=True)
class ReceiptAttachment:
    """One accepted attachment: its kind and caption in words, its name as handed in, SHA-256 in hex."""

    kind: str
    caption: str
    name: str
    bytes: int
    sha256: str


@dataclass(frozen=True)
class SignedTerms:
    """One signed release; `wording` is its title and version, `signed` and `restriction` are sentences."""

    signer: str
    role: str
    wording: str
    signed: str
    restriction: str


@dataclass(frozen=True)
class Receipt:
    """Everything that an acceptance receipt says; times carry their zone."""

    number: str
    check_url: str
    issued_at: datetime
    library: Library
    accession_number: str
    accepted_at: datetime
    accepted_by: str
    title: str
    collection: str
    narrators: tuple[str, ...]
    interviewers: tuple[str, ...]
    recorded_on: date
    place: str
    given_by: str
    parts: tuple[ReceiptPart, ...]
    attachments: tuple[ReceiptAttachment, ...]
    terms: tuple[SignedTerms, ...]
    restriction: str
    next_steps: str
    names_left_out: bool = False
    issue: Issue = FIRST_ISSUE


def receipt_pdf(receipt: Receipt) -> bytes:
    """The receipt as a PDF; ValueError for a time without zone or a digest that is not a SHA-256."""
    sheet = Sheet(
        kind=KIND,
        number=receipt.number,
        title=f"{KIND} {receipt.number}: {receipt.title}",
        author=receipt.library.name,
        dated=receipt.issued_at,
        issue=receipt.issue,
    )
    return build(lambda: _story(receipt), sheet)


def _story(receipt: Receipt) -> list[Flowable]:
    return [
        style.letterhead(
            receipt.library,
            number_label="Receipt number",
            number=receipt.number,
            check_url=receipt.check_url,
            issue=receipt.issue,
        ),
        _band(receipt),
        *style.issued_again(receipt.issue),
        *_given(receipt),
        *_accepted(receipt),
        *_files(receipt),
        *_terms(receipt),
        *_afterwards(receipt),
    ]


def _band(receipt: Receipt) -> Flowable:
    accepted = f"Accepted into the library's collection on {words.day(receipt.accepted_at)}, with thanks."
    number = printable(receipt.accession_number, noun="number")
    return style.band(KIND, f"{accepted}<br/>Accession number {number}", filled=True)


def _given(receipt: Receipt) -> list[Flowable]:
    return [
        heading("What was given"),
        text_fact("Interview", receipt.title, noun="title"),
        text_fact("Collection", receipt.collection, noun="title"),
        fact("Narrator" if len(receipt.narrators) == 1 else "Narrators", lines(receipt.narrators)),
        fact("Interviewer" if len(receipt.interviewers) == 1 else "Interviewers", lines(receipt.interviewers)),
        fact("Recorded on", words.day(receipt.recorded_on)),
        text_fact("Place", receipt.place, noun="place"),
        text_fact("Given by", receipt.given_by, noun="name"),
        *([ours(words.NAMES_SENTENCE, "small")] if receipt.names_left_out else []),
    ]


def _accepted(receipt: Receipt) -> list[Flowable]:
    return [
        style.together(
            heading("Accepted"),
            text_fact("Accession number", receipt.accession_number, noun="number"),
            fact("Accepted on", words.moment(receipt.accepted_at)),
            text_fact("For the library", receipt.accepted_by, noun="name"),
            fact("Receipt issued", words.moment(receipt.issued_at)),
        )
    ]


def _files(receipt: Receipt) -> list[Flowable]:
    return [
        *style.table_heading("The files", first_rows=45 * mm),
        _parts_table(receipt.parts),
        *_attachments(receipt.attachments),
        style.gap(6),
        ours(words.FIXITY_SENTENCE, "small"),
    ]


def _parts_table(parts: tuple[ReceiptPart, ...]) -> Flowable:
    head = [
        ours("Part", "cell_soft"),
        ours("File, format and SHA-256", "cell_soft"),
        ours("Duration", "cell_soft_right"),
        ours("Size", "cell_soft_right"),
    ]
    return style.file_table(head, [_part_row(part) for part in parts], _total_row(parts), COLUMN_WIDTHS)


def _attachments(attachments: tuple[ReceiptAttachment, ...]) -> list[Flowable]:
    """The attachments in a table of their own; nothing where there are none."""
    if not attachments:
        return []
    head = [ours("Attachment", "cell_soft"), ours("Size", "cell_soft_right")]
    rows = [_attachment_row(attachment) for attachment in attachments]
    count = "1 attachment in all" if len(attachments) == 1 else f"{len(attachments)} attachments in all"
    total = [ours(count, "cell"), style.size_cell(sum(attachment.bytes for attachment in attachments))]
    widths = (style.WIDTH - COLUMN_WIDTHS[-1], COLUMN_WIDTHS[-1])
    return [
        *style.table_heading("Attachments", first_rows=60 * mm),
        style.file_table(head, rows, total, widths),
    ]


def _attachment_row(attachment: ReceiptAttachment) -> list[object]:
    said = [theirs(attachment.caption, "cell_soft", noun="caption")] if attachment.caption else []
    file = [
        theirs(f"{attachment.kind}: {attachment.name}", "cell", noun="name"),
        *said,
        style.digest_cell(attachment.sha256),
    ]
    return [file, style.size_cell(attachment.bytes)]


def _part_row(part: ReceiptPart) -> list[object]:
    file = [
        theirs(part.name, "cell", noun="name"),
        theirs(part.format, "cell_soft"),
        style.digest_cell(part.sha256),
    ]
    return [ours(str(part.position), "cell"), file, *_extent(part.seconds, part.bytes)]


def _total_row(parts: tuple[ReceiptPart, ...]) -> list[object]:
    count = "1 part in all" if len(parts) == 1 else f"{len(parts)} parts in all"
    extent = _extent(sum(part.seconds or 0 for part in parts), sum(part.bytes for part in parts))
    return [ours("", "cell"), ours(count, "cell"), *extent]


def _extent(seconds: float | None, byte_count: int) -> list[object]:
    duration = "not known" if seconds is None else words.clock(seconds)
    return [ours(duration, "cell_right"), style.size_cell(byte_count)]


def _terms(receipt: Receipt) -> list[Flowable]:
    signed = [_signed(terms) for terms in receipt.terms] or [ours("No signed release stands behind this receipt.")]
    return [heading("On which terms"), *signed, text_fact("Restriction", receipt.restriction, noun="restriction")]


def _signed(terms: SignedTerms) -> Flowable:
    markup = [
        f"{printable(terms.signer)} ({printable(terms.role, noun='role')})",
        printable(terms.wording, noun="title"),
        printable(terms.signed, noun="name"),
        printable(terms.restriction, noun="restriction"),
    ]
    return style.together(fact("Release signed by", "<br/>".join(line for line in markup if line)))


def _afterwards(receipt: Receipt) -> list[Flowable]:
    library = receipt.library
    whom = [library.name, library.room, *library.contact.splitlines()]
    return [
        heading("What happens next"),
        *style.paragraphs(receipt.next_steps),
        style.together(
            heading("Your rights, and whom to ask"),
            ours(RIGHTS_SENTENCE),
            marked_up(lines(whom)),
            ours(CAUTION_SENTENCE, "small"),
        ),
    ]
