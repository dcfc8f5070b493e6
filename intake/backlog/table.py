"""Reads the CSV of a back-log: bytes in, rows of named cells and problems out. Knows no folder and no database."""

import csv
import io
import unicodedata
from dataclasses import dataclass

REQUIRED = ("files", "date", "place", "language", "collection", "narrator", "giver")
OPTIONAL = (
    "narrator_email",
    "interviewer",
    "interviewer_email",
    "giver_email",
    "summary",
    "notes",
    "spellings",
    "sha256",
)
COLUMNS = REQUIRED + OPTIONAL
SEPARATORS = (",", ";", "\t")  # spreadsheets write what their country's comma leaves free
MOST_BYTES = 10_000_000  # a hundred thousand full rows
UTF16 = (b"\xff\xfe", b"\xfe\xff")
SAVE_AS_UTF8 = "Save it again as “CSV UTF-8” and check that accented letters look right."


@dataclass(frozen=True)
class Problem:
    """What is wrong and where; row 1 is the line of headings, 0 the file as a whole."""

    row: int
    column: str
    sentence: str

    def __str__(self) -> str:
        where = [f"row {self.row}"] if self.row else []
        where += [f"column “{self.column}”"] if self.column else []
        return f"{', '.join(where).capitalize()}: {self.sentence}" if where else self.sentence


@dataclass(frozen=True)
class Line:
    """One row as written, by column; a column that the CSV does not have is an empty cell."""

    number: int
    cells: dict[str, str]

    def __getitem__(self, column: str) -> str:
        return self.cells.get(column, "")


def read(content: bytes) -> tuple[list[Line], list[Problem]]:
    """The rows, and all that keeps the file from being read as a table of interviews."""
    text, problems = _decoded(content)
    if problems:
        return [], problems
    try:
        records = list(csv.reader(io.StringIO(text, newline=""), delimiter=_separator(text), strict=True))
    except csv.Error as error:
        return [], [
            Problem(0, "", f"The CSV cannot be read: a quotation mark is not closed or stands alone ({error}).")
        ]
    headings, problems = _headings(records[0] if records else [])
    if problems:
        return [], problems
    lines = [
        (number, record) for number, record in enumerate(records[1:], start=2) if any(cell.strip() for cell in record)
    ]
    if not lines:
        return [], [Problem(0, "", "The CSV has headings, but no row under them.")]
    problems = [_too_wide(number) for number, record in lines if any(cell.strip() for cell in record[len(headings) :])]
    return [Line(number, _cells(headings, record)) for number, record in lines], problems


def _decoded(content: bytes) -> tuple[str, list[Problem]]:
    if len(content) > MOST_BYTES:
        return "", [Problem(0, "", f"The CSV is larger than {MOST_BYTES // 1_000_000} MB. Part it into several.")]
    if content.startswith(UTF16):
        return "", [Problem(0, "", f"The CSV is written in UTF-16. {SAVE_AS_UTF8}")]
    if not content.strip(b"\xef\xbb\xbf \t\r\n"):
        return "", [Problem(0, "", "The CSV is empty.")]
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        return "", [Problem(0, "", f"Line {line} of the CSV is not UTF-8. {SAVE_AS_UTF8}")]
    if "\0" in text:
        line = text.count("\n", 0, text.index("\0")) + 1
        return "", [Problem(0, "", f"Line {line} of the CSV holds a zero byte: it may be damaged, or no CSV at all.")]
    return text, []


def _separator(text: str) -> str:
    """Whichever of the three parts the line of headings into most columns that we know."""
    first = text.lstrip("\r\n").splitlines()[0]
    return max(SEPARATORS, key=lambda sign: sum(_plain(heading) in COLUMNS for heading in first.split(sign)))


def _headings(record: list[str]) -> tuple[list[str], list[Problem]]:
    headings = [_plain(heading) for heading in record]
    while headings and not headings[-1]:
        headings.pop()
    problems = [
        Problem(1, heading, "This column is not known. The columns are " + ", ".join(COLUMNS) + ".")
        for heading in headings
        if heading not in COLUMNS
    ]
    problems += [
        Problem(1, heading, "This column stands here twice.")
        for heading in sorted({heading for heading in headings if heading and headings.count(heading) > 1})
    ]
    problems += [Problem(1, column, "This column is missing.") for column in REQUIRED if column not in headings]
    return headings, problems


def _plain(heading: str) -> str:
    return "_".join(heading.strip().strip('"').casefold().replace("-", " ").replace("_", " ").split())


def _cells(headings: list[str], record: list[str]) -> dict[str, str]:
    return {
        heading: unicodedata.normalize("NFC", cell.strip()) for heading, cell in zip(headings, record, strict=False)
    }


def _too_wide(number: int) -> Problem:
    return Problem(
        number, "", "This row has more cells than there are headings: put cells with the separator in them in quotes."
    )
