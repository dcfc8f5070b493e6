"""Sheets of adhesive labels for what the library can hold in its hand: folders of papers, sticks and discs.

24 labels of 70 by 37 mm on a page of A4, three across: common practice, no source.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from io import BytesIO
from itertools import islice

from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable
from reportlab.platypus.flowables import KeepInFrame

from intake.outputs.paper import fonts, style
from intake.outputs.paper.fonts import cleaned
from intake.outputs.paper.pages import LANGUAGE, date_file
from intake.outputs.paper.style import theirs

ACROSS, DOWN = 3, 8
ON_A_SHEET = ACROSS * DOWN
LABEL_WIDTH, LABEL_HEIGHT = 70 * mm, 37 * mm
# What a printer may be off by, and what it cannot print at the edge of a page.
INSET_X, INSET_Y = 6 * mm, 4.5 * mm
QR_SIZE = 19 * mm
TOP = (A4[1] - DOWN * LABEL_HEIGHT) / 2


@dataclass(frozen=True)
class Label:
    """One label: a number in large type, lines under it, and the address that its QR code holds."""

    number: str
    what: str
    lines: tuple[str, ...]
    code: str


def labels_pdf(labels: Sequence[Label], *, first: int, title: str, author: str, dated: datetime) -> bytes:
    """The labels as a PDF, the first on place `first` (from 1, row by row) of a sheet that may have been begun.

    ValueError for a place that is not on the sheet.
    """
    if not 1 <= first <= ON_A_SHEET:
        raise ValueError(f"A sheet has the places 1 to {ON_A_SHEET}.")
    fonts.register_fonts()
    buffer = BytesIO()
    canvas = Canvas(buffer, pagesize=A4, lang=LANGUAGE, invariant=1, initialFontName=fonts.SANS)
    canvas.setTitle(cleaned(title))
    canvas.setAuthor(cleaned(author))
    canvas.setCreator("Oral history intake")
    canvas.setViewerPreference("DisplayDocTitle", "true")
    date_file(canvas, dated)
    place, left = first - 1, iter(labels)
    while page := list(islice(left, ON_A_SHEET - place)):
        for number, label in enumerate(page, place):
            _draw(canvas, label, column=number % ACROSS, row=number // ACROSS)
        canvas.showPage()
        place = 0
    canvas.save()
    return buffer.getvalue()


def _draw(canvas: Canvas, label: Label, *, column: int, row: int) -> None:
    x = column * LABEL_WIDTH + INSET_X
    y = A4[1] - TOP - (row + 1) * LABEL_HEIGHT + INSET_Y
    width, height = LABEL_WIDTH - 2 * INSET_X, LABEL_HEIGHT - 2 * INSET_Y
    words = width - QR_SIZE - 2 * mm
    told: list[Flowable] = [
        theirs(label.number, "label_number", noun="number"),
        theirs(label.what, "label_what"),
        *(theirs(line, "label") for line in label.lines),
    ]
    # Long names are set smaller, all of them, rather than cut.
    box = KeepInFrame(words, height, told, mode="shrink")
    _, used = box.wrapOn(canvas, words, height)
    box.drawOn(canvas, x, y + height - used)
    style.Code(label.code, QR_SIZE).drawOn(canvas, x + width - QR_SIZE, y + height - QR_SIZE)
