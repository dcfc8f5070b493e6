"""The pages of a paper: its pieces laid out on A4, each page with its footer, the file with its title and date."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial
from io import BytesIO

from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import BaseDocTemplate, Flowable, Frame, PageTemplate, Paragraph

from intake.outputs.paper import fonts, style
from intake.outputs.paper.fonts import cleaned
from intake.outputs.paper.style import FIRST_ISSUE, Issue

TOP_MARGIN = 16 * mm
BOTTOM_MARGIN = 21 * mm
LANGUAGE = "en-GB"
PAGE_OF = {"en": "Page {} of {}", "es": "Página {} de {}"}


@dataclass(frozen=True)
class Sheet:
    """What every page of one paper carries: its kind and number in the footer, title, author and date in the file.

    `language` is the BCP 47 tag of what the paper says.
    """

    kind: str
    number: str
    title: str
    author: str
    dated: datetime
    issue: Issue = FIRST_ISSUE
    language: str = LANGUAGE


def build(story: Callable[[], list[Flowable]], sheet: Sheet) -> bytes:
    """The finished file: laid out once to count the pages and once more to print "Page x of y".

    The same data give the same bytes: the file's date is the paper's own, never the clock's.
    """
    pages = _lay_out(story(), sheet, total=0)[1]
    return _lay_out(story(), sheet, total=pages)[0]


def _lay_out(story: list[Flowable], sheet: Sheet, *, total: int) -> tuple[bytes, int]:
    buffer = BytesIO()
    document = BaseDocTemplate(
        buffer, pagesize=A4, title=cleaned(sheet.title), author=cleaned(sheet.author),
        subject=f"{sheet.kind} {cleaned(sheet.number)}",
        creator="Oral history intake", lang=sheet.language, displayDocTitle=True, invariant=1,
        initialFontName=fonts.SANS,
    )  # fmt: skip
    frame = Frame(
        style.MARGIN, BOTTOM_MARGIN, style.WIDTH, A4[1] - TOP_MARGIN - BOTTOM_MARGIN,
        leftPadding=0, rightPadding=0, topPadding=0, bottomPadding=0,
    )  # fmt: skip
    dress = partial(_dress_page, sheet=sheet, total=total)
    document.addPageTemplates(PageTemplate(frames=[frame], onPage=dress))
    document.build(story)
    return buffer.getvalue(), document.page


def _dress_page(canvas: Canvas, document: BaseDocTemplate, *, sheet: Sheet, total: int) -> None:
    """The footer, and the paper's own date as the file's date."""
    date_file(canvas, sheet.issue.at or sheet.dated)
    canvas.setStrokeColor(style.RULE)
    canvas.setLineWidth(0.6)
    canvas.line(style.MARGIN, 17 * mm, A4[0] - style.MARGIN, 17 * mm)
    foot = f"{sheet.kind} {sheet.number}{sheet.issue.named}"
    page = PAGE_OF.get(sheet.language, PAGE_OF["en"]).format(document.page, total)
    _place(canvas, style.theirs(foot, "footer", noun="number"), style.MARGIN, style.WIDTH - 30 * mm)
    _place(canvas, style.ours(page, "footer_right"), A4[0] - style.MARGIN - 30 * mm, 30 * mm)


def date_file(canvas: Canvas, at: datetime) -> None:
    """Let the file say a paper's own time, so that the same data give the same bytes."""
    stamp = at.astimezone(UTC).strftime("D:%Y%m%d%H%M%S+00'00'")
    canvas.setDateFormatter(lambda *_clock: stamp)


def _place(canvas: Canvas, paragraph: Paragraph, x: float, width: float) -> None:
    _, height = paragraph.wrapOn(canvas, width, 20 * mm)
    paragraph.drawOn(canvas, x, 15.5 * mm - height)
