"""The house style of the printed papers: A4, paper, ink and one colour; readable in black and white.

A paper is a list of flowables made by the pieces below, put on pages by `pages.build`. Nothing here knows what a paper
says.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from io import BytesIO
from typing import Any

from reportlab.graphics.barcode.qr import QrCode
from reportlab.lib.colors import HexColor, white
from reportlab.lib.enums import TA_RIGHT
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.platypus import (
    CondPageBreak,
    Flowable,
    Image,
    KeepTogether,
    LongTable,
    Paragraph,
    Spacer,
    Table,
)

from intake.outputs.paper import fonts, words
from intake.outputs.paper.fonts import escaped, printable, register_fonts

INK = HexColor("#22201c")
INK_SOFT = HexColor("#5d574c")
RULE = HexColor("#ddd5c4")
SHEET = HexColor("#f5f0e4")
RIVER = HexColor("#0b5a6b")

MARGIN = 20 * mm
WIDTH = A4[0] - 2 * MARGIN
LABEL_WIDTH = 42 * mm
QR_SIZE = 25 * mm
LOGO_WIDTH = 60 * mm
LOGO_HEIGHT = 18 * mm
ISSUED = {
    "en": "Version {0} of this paper, issued {1}. It replaces the one before it. Why: ",
    "es": "Versión {0} de este papel, emitida el {2}. Sustituye a la anterior. Por qué: ",
}


Look = dict[str, Any]


@dataclass(frozen=True)
class Library:
    """Who hands the paper out: the library, its room, and how to reach it (lines of `contact` are kept)."""

    name: str
    room: str
    contact: str
    logo_png: bytes | None = None


@dataclass(frozen=True)
class Issue:
    """Which version of a paper this is; from the second on, when it was issued (with its zone) and why."""

    version: int = 1
    at: datetime | None = None
    because: str = ""

    @property
    def named(self) -> str:
        """Such as ", version 2"; empty for the first."""
        return f", version {self.version}" if self.at else ""


FIRST_ISSUE = Issue()


# The face is named although every cell holds paragraphs: a table would otherwise draw in a face that is not embedded.
PLAIN_TABLE = [
    ("FONTNAME", (0, 0), (-1, -1), fonts.SANS),
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ("LEFTPADDING", (0, 0), (-1, -1), 0),
    ("RIGHTPADDING", (0, 0), (-1, -1), 0),
]

SOFT: Look = {"textColor": INK_SOFT}
RIGHT: Look = {"alignment": TA_RIGHT}
TIGHT: Look = {"spaceAfter": 0}
LABELLED: Look = {"leftIndent": LABEL_WIDTH, "bulletFontName": fonts.SANS, "bulletFontSize": 8, "bulletColor": INK_SOFT}
LISTED: Look = {"leftIndent": 12, "bulletFontName": fonts.SANS, "bulletFontSize": 9.5, "bulletColor": RIVER}
TICKED: Look = {"leftIndent": 18, "bulletFontName": fonts.SANS, "bulletFontSize": 13, "bulletColor": INK}
TITLE: Look = {"spaceBefore": 12, "spaceAfter": 5}

# name: (face, size, leading, the rest); sizes and leadings in points
LOOKS: dict[str, tuple[str, float, float, Look]] = {
    "text": (fonts.SANS, 9.5, 14, {"spaceAfter": 4}),
    "small": (fonts.SANS, 8, 11.5, SOFT | {"spaceAfter": 4}),
    "list": (fonts.SANS, 9.5, 14, LISTED | {"spaceAfter": 3}),
    "tick": (fonts.SANS, 9.5, 14, TICKED | {"spaceBefore": 2, "spaceAfter": 5}),
    "fact": (fonts.SANS, 9.5, 14, LABELLED | {"spaceAfter": 3}),
    "fact_digest": (fonts.MONO, 9, 13.5, LABELLED | {"spaceAfter": 5}),
    "heading": (fonts.SERIF_BOLD, 12, 16, TITLE | {"keepWithNext": 1}),
    "table_heading": (fonts.SERIF_BOLD, 12, 16, TITLE),
    "library": (fonts.SERIF_BOLD, 13, 17, {"spaceAfter": 2}),
    "number": (fonts.SANS_BOLD, 11, 15, RIGHT | {"spaceAfter": 3}),
    "number_words": (fonts.SANS, 7.5, 10.5, SOFT | RIGHT | TIGHT),
    "band_ruled": (fonts.SERIF_BOLD, 19, 25, {"textColor": RIVER, "spaceAfter": 1}),
    "band_ruled_words": (fonts.SANS, 9.5, 14, TIGHT),
    "band_outlined": (fonts.SERIF_BOLD, 19, 25, {"spaceAfter": 1}),
    "band_outlined_words": (fonts.SANS_BOLD, 10.5, 15, TIGHT),
    "band_filled": (fonts.SERIF_BOLD, 19, 25, {"textColor": white, "spaceAfter": 1}),
    "band_filled_words": (fonts.SANS, 9.5, 14, TIGHT | {"textColor": white}),
    "wording": (fonts.SERIF, 10, 15.5, {"spaceAfter": 8}),
    "addressee": (fonts.SANS_BOLD, 10.5, 15, TIGHT),
    "letter": (fonts.SERIF, 10.5, 16.5, {"spaceAfter": 9}),
    "label_number": (fonts.SANS_BOLD, 11, 13, {"spaceAfter": 1}),
    "label_what": (fonts.SANS_BOLD, 7, 9, {"spaceAfter": 1}),
    "label": (fonts.SANS, 6.5, 8.5, TIGHT),
    "typed_signature": (fonts.SERIF, 18, 25, TIGHT),
    "cell": (fonts.SANS, 8.5, 12, TIGHT),
    "cell_right": (fonts.SANS, 8.5, 12, RIGHT | TIGHT),
    "cell_soft": (fonts.SANS, 7.5, 11, SOFT | TIGHT),
    "cell_soft_right": (fonts.SANS, 7.5, 11, SOFT | RIGHT | TIGHT),
    "cell_digest": (fonts.MONO, 8, 11.5, TIGHT),
    "footer": (fonts.SANS, 7.5, 10, SOFT | TIGHT),
    "footer_right": (fonts.SANS, 7.5, 10, SOFT | RIGHT | TIGHT),
}


@cache
def look(name: str) -> ParagraphStyle:
    """A paragraph style of the house by its name in LOOKS, with the fonts registered."""
    register_fonts()
    face, points, leading, rest = LOOKS[name]
    own: Look = {"fontName": face, "fontSize": points, "leading": leading, "textColor": INK}
    return ParagraphStyle(name, **(own | {"allowWidows": 0, "allowOrphans": 0} | rest))


def marked_up(markup: str, style: str = "text", **bullet: str) -> Paragraph:
    """A paragraph of markup that `fonts` has made safe."""
    return Paragraph(markup, look(style), **bullet)


def ours(sentence: str, style: str = "text") -> Paragraph:
    """A paragraph of the paper's own words."""
    return marked_up(escaped(sentence, look(style).fontName), style)


def theirs(text: str, style: str = "text", *, noun: str = "text") -> Paragraph:
    """A paragraph of words that somebody typed, printed literally."""
    return marked_up(printable(text, face=look(style).fontName, noun=noun), style)


def heading(text: str) -> Paragraph:
    """A heading that stays with what follows it."""
    return ours(text, "heading")


def table_heading(text: str, *, first_rows: float) -> list[Flowable]:
    """A heading over a table that may break, on a page with room for `first_rows` points of it."""
    return [CondPageBreak(first_rows), ours(text, "table_heading")]


def paragraphs(text: str, style: str = "text", *, noun: str = "text") -> list[Flowable]:
    """One flowable for each paragraph (split by blank lines) of a typed text, with its line breaks kept."""
    face = look(style).fontName
    return [marked_up(lines(block.splitlines(), face=face, noun=noun), style) for block in split_paragraphs(text)]


def split_paragraphs(text: str) -> list[str]:
    """The paragraphs of a text: runs of lines that are not blank."""
    blocks: list[list[str]] = [[]]
    for line in text.splitlines():
        if line.strip():
            blocks[-1].append(line)
        elif blocks[-1]:
            blocks.append([])
    return ["\n".join(block) for block in blocks if block]


def lines(texts: Iterable[str], *, face: str = fonts.SANS, noun: str = "name") -> str:
    """Markup for typed texts, one under the other."""
    return "<br/>".join(printable(text, face=face, noun=noun) for text in texts)


def fact(label: str, markup: str, style: str = "fact") -> Paragraph:
    """A label with its value beside it; a paragraph, not a table row, so that any length flows over pages."""
    return marked_up(markup or fonts.note("Not stated"), style, bulletText=label)


def text_fact(label: str, text: str, *, noun: str = "text") -> Paragraph:
    """A fact whose value somebody typed."""
    return fact(label, printable(text, noun=noun))


class Code(QrCode):
    """A QR code of the address at which something can be checked, in ink whatever was drawn before.

    The quiet zone of 4 modules that ISO/IEC 18004 asks for is the white around it, a page's margin or a gap, so that
    the dark edge stands in line with everything else.
    """

    qrBorder = 0  # noqa: N815 - the library's own attribute
    qrLevel = "M"  # noqa: N815 - the library's own attribute

    def __init__(self, address: str, size: float = QR_SIZE) -> None:
        super().__init__(address, width=size, height=size)

    def draw(self) -> None:
        self.canv.setFillColor(INK)
        super().draw()


def letterhead(
    library: Library, *, number_label: str, number: str, check_url: str, issue: Issue = FIRST_ISSUE
) -> Table:
    """The library at the left; the paper's number, its check address and the address as a QR code at the right."""
    what = [
        ours(number_label, "number_words"),
        theirs(number + issue.named, "number", noun="number"),
        ours("Check this paper at", "number_words"),
        *(theirs(line, "number_words", noun="address") for line in _address_lines(check_url)),
    ]
    gutter = 5 * mm
    widths = (WIDTH - 60 * mm - gutter - QR_SIZE, 60 * mm + gutter, QR_SIZE)
    style = [
        *PLAIN_TABLE,
        ("RIGHTPADDING", (0, 0), (1, 0), gutter),
        ("TOPPADDING", (0, 0), (-1, -1), 0),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 3 * mm),
    ]
    return Table([[_sender(library), what, Code(check_url)]], colWidths=widths, style=style)


def plain_letterhead(library: Library, *, right: str, right_label: str) -> Table:
    """The library at the left; at the right what a paper without a number of its own is known by."""
    what = [ours(right_label, "number_words"), theirs(right, "number", noun="number")]
    style = [*PLAIN_TABLE, ("TOPPADDING", (0, 0), (-1, -1), 0), ("BOTTOMPADDING", (0, 0), (-1, -1), 3 * mm)]
    return Table([[_sender(library), what]], colWidths=(WIDTH - 70 * mm, 70 * mm), style=style)


def _sender(library: Library) -> list[Flowable]:
    who: list[Flowable] = [_logo(library.logo_png)] if library.logo_png else []
    who += [theirs(library.name, "library", noun="name"), theirs(library.room, "small", noun="name")]
    return [*who, marked_up(lines(library.contact.splitlines(), noun="address"), "small")]


def issued_again(issue: Issue, language: str = "en") -> list[Flowable]:
    """On a paper that replaces an earlier version: which it is, when and why; nothing on a first one."""
    if issue.at is None:
        return []
    told = ISSUED.get(language, ISSUED["en"]).format(issue.version, words.moment(issue.at), issue.at.date().isoformat())
    return [marked_up(escaped(told, fonts.SANS) + printable(issue.because), "small")]


def _logo(png: bytes) -> Image:
    """The library's logo within its place above the name, which is its text for whoever cannot see it."""
    image = Image(BytesIO(png), hAlign="LEFT")
    scale = min(LOGO_WIDTH / image.imageWidth, LOGO_HEIGHT / image.imageHeight)
    image.drawWidth, image.drawHeight = image.imageWidth * scale, image.imageHeight * scale
    image.spaceAfter = 2 * mm
    return image


def _address_lines(url: str) -> list[str]:
    """The address in two lines, so that the number at its end is not torn apart."""
    before, slash, number = url.rstrip("/").rpartition("/")
    return [before + slash, number + url[len(url.rstrip("/")) :]]


def band(title: str, markup: str, *, filled: bool) -> Table:
    """The heading that says what the paper is: filled for an act of the library, ruled for a copy of something."""
    ruled = [("BACKGROUND", (0, 0), (-1, -1), SHEET), ("LINEBEFORE", (0, 0), (0, -1), 4, RIVER)]
    colours = [("BACKGROUND", (0, 0), (-1, -1), RIVER)] if filled else ruled
    return _band(title, markup, colours, kind="band_filled" if filled else "band_ruled")


def outlined_band(title: str, markup: str) -> Table:
    """The heading of a paper that says what is the case and decides nothing: an empty frame."""
    return _band(title, markup, [("BOX", (0, 0), (-1, -1), 1.4, INK)], kind="band_outlined")


def _band(title: str, markup: str, colours: list[tuple[Any, ...]], *, kind: str) -> Table:
    style = [
        *PLAIN_TABLE,
        *colours,
        ("LEFTPADDING", (0, 0), (-1, -1), 14),
        ("RIGHTPADDING", (0, 0), (-1, -1), 14),
        ("TOPPADDING", (0, 0), (-1, -1), 8),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 11),
    ]
    told = [ours(title, kind), marked_up(markup, f"{kind}_words")]
    return Table([[told]], colWidths=[WIDTH], spaceBefore=6, spaceAfter=10, style=style)


def file_table(head: list[Flowable], rows: list[list[object]], total: list[object], widths: Sequence[float]) -> Table:
    """A table of files that may break between rows; its head is repeated, and its total never stands alone."""
    look = [
        *PLAIN_TABLE,
        ("RIGHTPADDING", (0, 0), (-2, -1), 6),
        ("TOPPADDING", (0, 0), (-1, -1), 4),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 5),
        ("LINEBELOW", (0, 0), (-1, -2), 0.6, RULE),
        ("LINEABOVE", (0, -1), (-1, -1), 1, INK),
        ("NOSPLIT", (0, -2), (-1, -1)),
    ]
    return LongTable([head, *rows, total], colWidths=widths, repeatRows=1, style=look)


def digest_cell(sha256: str) -> Paragraph:
    return marked_up("<br/>".join(words.digest_lines(sha256)), "cell_digest")


def size_cell(byte_count: int) -> list[Flowable]:
    return [ours(words.size(byte_count), "cell_right"), ours(words.exact_bytes(byte_count), "cell_soft_right")]


def together(*flowables: Flowable) -> KeepTogether:
    """Pieces that stay on one page if they fit on one."""
    return KeepTogether(list(flowables))


def gap(points: float) -> Spacer:
    """Empty height."""
    return Spacer(1, points)
