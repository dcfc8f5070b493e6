"""Reading the CSV of a back-log: what spreadsheets write, and what is told when they write something else."""

import pytest

from intake.backlog.table import MOST_BYTES, REQUIRED, read

HEADINGS = ",".join(REQUIRED)
ROW = "a.wav,2026-03-14,Alder Ferry,en,Both Banks,Marit Oskarsen,Jonna Vik"
GOOD = f"{HEADINGS}\n{ROW}\n"


def told(content: bytes | str) -> list[str]:
    lines, problems = read(content.encode() if isinstance(content, str) else content)
    assert not (lines and problems) or problems[0].row > 1
    return [str(problem) for problem in problems]


def rows(content: bytes | str) -> list[dict[str, str]]:
    lines, problems = read(content.encode() if isinstance(content, str) else content)
    assert problems == []
    return [line.cells for line in lines]


def test_a_row_is_read_by_its_headings():
    (row,) = rows(GOOD)
    assert (row["files"], row["narrator"], row["giver"]) == ("a.wav", "Marit Oskarsen", "Jonna Vik")


@pytest.mark.parametrize("sign", [",", ";", "\t"])
def test_what_spreadsheets_put_between_cells_is_understood(sign):
    assert rows(GOOD.replace(",", sign)) == rows(GOOD)


def test_a_byte_order_mark_and_carriage_returns_do_no_harm():
    assert rows(b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode()) == rows(GOOD)


def test_headings_may_be_written_as_people_do():
    written = f"{HEADINGS.upper()},Narrator E-mail, Interviewer-Email \n{ROW},m@example.org,i@example.org\n"
    (row,) = rows(written.replace("Narrator E-mail", "narrator email"))
    assert (row["narrator_email"], row["interviewer_email"]) == ("m@example.org", "i@example.org")


def test_cells_in_quotes_may_hold_separators_and_line_breaks():
    (row,) = rows(f'{HEADINGS},summary\n{ROW},"Ice, fog\nand ""the bell"""\n')
    assert row["summary"] == 'Ice, fog\nand "the bell"'


def test_empty_rows_are_passed_over_but_counted_as_the_spreadsheet_counts():
    lines, problems = read(f"{HEADINGS}\n\n,,,,,,\n{ROW}\n".encode())
    assert problems == []
    assert [line.number for line in lines] == [4]


def test_a_row_may_be_shorter_than_the_headings():
    (row,) = rows(f"{HEADINGS},summary,notes\n{ROW}\n")
    assert "summary" not in row


@pytest.mark.parametrize("content", [b"", b"\n\n", b"\xef\xbb\xbf\r\n", b"  "])
def test_an_empty_file_is_told(content):
    assert told(content) == ["The CSV is empty."]


def test_headings_alone_are_told():
    assert told(HEADINGS + "\n") == ["The CSV has headings, but no row under them."]


def test_missing_headings_are_told_by_name():
    assert told("files,date\na.wav,2026-03-14\n") == [
        f"Row 1, column “{column}”: This column is missing." for column in REQUIRED[2:]
    ]


def test_a_csv_without_headings_names_its_first_row_and_what_is_missing():
    problems = told(ROW)
    assert "Row 1, column “a.wav”: This column is not known." in problems[0]
    assert "Row 1, column “files”: This column is missing." in problems


def test_a_column_that_stands_twice_is_told():
    assert told(f"{HEADINGS},date\n{ROW},\n") == ["Row 1, column “date”: This column stands here twice."]


def test_a_row_with_too_many_cells_is_told():
    (problem,) = told(f"{GOOD}{ROW},one too many\n")
    assert problem.startswith("Row 3: This row has more cells than there are headings")


def test_a_line_that_is_not_utf_8_is_told_by_its_number():
    latin = GOOD + ROW.replace("Marit", "José")
    (problem,) = told(latin.encode("latin-1"))
    assert problem.startswith("Line 3 of the CSV is not UTF-8.")


def test_utf_16_is_told():
    (problem,) = told(GOOD.encode("utf-16"))
    assert problem.startswith("The CSV is written in UTF-16.")


def test_a_workbook_is_no_csv():
    """A ZIP by its first bytes (from memory: PK, 3, 4)."""
    (problem,) = told(b"PK\x03\x04\x14\x00" + GOOD.encode())
    assert problem.startswith("Line 1 of the CSV holds a zero byte")


def test_an_open_quotation_mark_is_told():
    (problem,) = told(f'{HEADINGS}\n"a.wav,2026-03-14\n')
    assert "a quotation mark is not closed" in problem


def test_a_file_too_large_to_be_a_list_is_told():
    assert told(b"x" * (MOST_BYTES + 1)) == ["The CSV is larger than 10 MB. Part it into several."]
