"""A letter from the library to one person: the words as they were written, on the library's own paper."""

from dataclasses import dataclass
from datetime import datetime

from reportlab.platypus import Flowable

from intake.outputs.paper import style
from intake.outputs.paper.fonts import note, undrawable
from intake.outputs.paper.pages import Sheet, build
from intake.outputs.paper.style import FIRST_ISSUE, Issue, Library, marked_up, theirs

PARTIAL_SENTENCE = "Some letters of this text cannot be printed on this paper. Ask the library for its web page."


@dataclass(frozen=True)
class WrittenLetter:
    """Everything that a letter says. `kind` is its name in words, `dated` its day as its language writes it.

    `language` is a BCP 47 tag; `number` the accession's or, before an acceptance, empty.
    """

    kind: str
    number: str
    library: Library
    to: str
    dated: str
    written_at: datetime
    language: str
    text: str
    issue: Issue = FIRST_ISSUE


def letter_pdf(letter: WrittenLetter) -> bytes:
    """The letter as a PDF; ValueError for a time without zone."""
    sheet = Sheet(
        kind=letter.kind,
        number=letter.number,
        title=f"{letter.kind}: {letter.to}",
        author=letter.library.name,
        dated=letter.written_at,
        issue=letter.issue,
        language=letter.language,
    )
    return build(lambda: _story(letter), sheet)


def _story(letter: WrittenLetter) -> list[Flowable]:
    partial = [marked_up(note(PARTIAL_SENTENCE), "small")] if undrawable(letter.text) else []
    return [
        style.plain_letterhead(letter.library, right=letter.dated, right_label=letter.number),
        style.gap(30),
        theirs(letter.to, "addressee"),
        style.gap(30),
        *style.paragraphs(letter.text, "letter"),
        *partial,
        *style.issued_again(letter.issue, letter.language),
    ]
