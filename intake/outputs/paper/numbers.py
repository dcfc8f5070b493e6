"""The numbers of a year on paper: figures, tables with their units, and bars over the months."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from reportlab.platypus import Flowable, LongTable

from intake.outputs.paper import style
from intake.outputs.paper.fonts import printable
from intake.outputs.paper.pages import Sheet, build
from intake.outputs.paper.style import Library, marked_up, ours

KIND = "Numbers"
BARS_HEIGHT = 90  # points
NAMES_HEIGHT = 12
BETWEEN = 0.25  # of a month's place, left between bars
# From dark to light, so that they are told apart in black and white.
FILLS = ("#0b5a6b", "#7fa8b0", "#d3c9b2")


@dataclass(frozen=True)
class Column:
    """One thing counted or measured, with its unit in a word."""

    name: str
    unit: str


@dataclass(frozen=True)
class Table:
    """Rows of numbers. `told` says in a sentence what they show; None is a number that there is not.

    `drawn` are the places of the columns that are drawn as bars, one upon the other; none for no picture.
    """

    key: str
    title: str
    told: str
    first: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[str, tuple[float | None, ...]], ...]
    drawn: tuple[int, ...] = ()

    @property
    def drawn_columns(self) -> list[Column]:
        return [self.columns[place] for place in self.drawn]

    @property
    def most(self) -> float:
        """The height of the highest bar; 0 where nothing is drawn."""
        return max((sum(self.heights(values)) for _, values in self.rows), default=0.0)

    def heights(self, values: Sequence[float | None]) -> list[float]:
        return [values[place] or 0.0 for place in self.drawn]


@dataclass(frozen=True)
class Numbers:
    """All of one year. `figures` are name, value and unit of what stands at the head."""

    library: Library
    year: int
    figures: tuple[tuple[str, str, str], ...]
    tables: tuple[Table, ...]
    at: datetime


def numbers_pdf(numbers: Numbers) -> bytes:
    sheet = Sheet(
        kind=KIND,
        number=str(numbers.year),
        title=f"Oral history in numbers, {numbers.year}",
        author=numbers.library.name,
        dated=numbers.at,
    )
    return build(lambda: _story(numbers), sheet)


def shown(value: float | None) -> str:
    """A number as it is read: whole ones whole, others to one decimal, below 1 to two; a dash where there is none."""
    if value is None:
        return "–"
    if float(value).is_integer():
        return f"{value:,.0f}"
    return f"{value:,.1f}" if abs(value) >= 1 else f"{value:.2f}"


def _story(numbers: Numbers) -> list[Flowable]:
    return [
        style.plain_letterhead(numbers.library, right=str(numbers.year), right_label="Year"),
        style.outlined_band(f"Oral history in numbers, {numbers.year}", ""),
        *(style.fact(name, printable(f"{value} {unit}".strip())) for name, value, unit in numbers.figures),
        *(piece for table in numbers.tables for piece in _table(table)),
    ]


def _table(table: Table) -> list[Flowable]:
    bars = [_Bars(table), ours(_key(table), "small")] if table.drawn and table.most else []
    return [style.together(style.heading(table.title), ours(table.told), *bars), _rows(table)]


def _key(table: Table) -> str:
    names = [f"{column.name.lower()} ({column.unit})" for column in table.drawn_columns]
    return f"Bars: {', '.join(names)}{' (from the bottom up)' if len(names) > 1 else ''}; highest {shown(table.most)}."


def _rows(table: Table) -> Flowable:
    head = [table.first, *(f"{column.name} ({column.unit})" for column in table.columns)]
    rows = [[label, *(shown(value) for value in values)] for label, values in table.rows]
    cells = [[ours(printable(cell), "cell_soft") for cell in head]]
    cells += [[marked_up(printable(cell), "cell") for cell in row] for row in rows]
    width = (style.WIDTH - style.LABEL_WIDTH) / len(table.columns)
    look = [*style.PLAIN_TABLE, ("LINEBELOW", (0, 0), (-1, -1), 0.6, style.RULE)]
    return LongTable(cells, colWidths=[style.LABEL_WIDTH] + [width] * len(table.columns), repeatRows=1, style=look)


class _Bars(Flowable):
    """A bar for each row, its parts one upon the other; the table below says the same in numbers."""

    def __init__(self, table: Table) -> None:
        super().__init__()
        self.width, self.height, self.spaceAfter = style.WIDTH, BARS_HEIGHT + NAMES_HEIGHT, 4
        self._table = table

    def draw(self) -> None:
        place = self.width / len(self._table.rows)
        for number, (label, values) in enumerate(self._table.rows):
            foot = float(NAMES_HEIGHT)
            for fill, height in zip(FILLS, self._table.heights(values), strict=False):
                self.canv.setFillColor(style.HexColor(fill))
                tall = height / self._table.most * BARS_HEIGHT
                self.canv.rect((number + BETWEEN / 2) * place, foot, place * (1 - BETWEEN), tall, stroke=0, fill=1)
                foot += tall
            self.canv.setFillColor(style.INK_SOFT)
            self.canv.setFont(style.fonts.SANS, 7)
            self.canv.drawCentredString((number + 0.5) * place, 2, label[:3])
        self.canv.setStrokeColor(style.RULE)
        self.canv.line(0, NAMES_HEIGHT, self.width, NAMES_HEIGHT)
