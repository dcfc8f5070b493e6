"""A back-log is checked as a whole before anything is written; every problem says where it is."""

import os
import re
import unicodedata
from datetime import date, timedelta
from uuid import uuid4

import pytest
from django.utils import timezone

from intake.backlog import checking
from intake.backlog.checking import day_as_written
from intake.backlog.table import COLUMNS
from intake.files import storage
from intake.interviews.models import Interview
from tests.architecture.source import ROOT
from tests.backlog.folder import a_folder, check, told
from tests.factories import a_collection

pytestmark = pytest.mark.django_db


@pytest.fixture
def folder(tmp_path):
    return a_folder(tmp_path / "tapes", "tape1.wav")


def test_a_row_in_order_is_planned(folder):
    plan = check(folder, {"sha256": "A" * 64})
    assert plan.problems == []
    (row,) = plan.rows
    assert (row.number, row.narrator.name, row.giver.email) == (2, "Marit Oskarsen", "jonna@example.org")
    assert row.description.recorded_on == date(2026, 3, 14)
    (file,) = row.files
    assert (file.path, file.bytes, file.sha256) == (folder / "tape1.wav", 12844, "a" * 64)
    assert not Interview.objects.exists()


def test_all_problems_are_told_together_in_the_order_of_the_rows(folder):
    assert told(folder, {"place": "", "language": "Klingonese"}, {"files": "tape2.wav"}) == [
        "Row 2, column “place”: This cell is empty.",
        "Row 2, column “language”: “Klingonese” is no language known here. Write its code, such as en, or its name.",
        "Row 3, column “files”: “tape2.wav” is not in the folder.",
    ]


def test_the_example_in_the_manual_is_in_order(tmp_path):
    """And the manual's table lists the columns that there are."""
    page = (ROOT / "docs/import.md").read_text()
    listed = re.findall(r"`(\w+)`", "".join(re.findall(r"^\| (`\w+`.*?) \|", page, re.MULTILINE)))
    assert sorted(listed) == sorted(COLUMNS)
    folder = a_folder(tmp_path, "tape1.wav", "tape2/a.wav", "tape2/b.wav")
    example = re.findall(r"^    ((?:files|tape\d).*)$", page, re.MULTILINE)
    (folder / "list.csv").write_text("\n".join(example))
    a_collection()
    plan = checking.check(folder, folder / "list.csv", leave_unlisted=False)
    assert plan.problems == []
    assert [len(row.files) for row in plan.rows] == [1, 2]


# Files


def test_several_files_of_one_interview_stand_in_one_cell(tmp_path):
    folder = a_folder(tmp_path, "one/a.wav", "one/b.wav")
    (row,) = check(folder, {"files": "one/b.wav | one/a.wav"}).rows
    assert [file.name for file in row.files] == ["one/b.wav", "one/a.wav"]


def test_backslashes_part_folders_too(tmp_path):
    (row,) = check(a_folder(tmp_path, "one/a.wav"), {"files": r".\one\a.wav"}).rows
    assert row.files[0].path == tmp_path / "one/a.wav"


def test_accents_written_in_two_signs_are_the_same_name(tmp_path):
    """As some computers write file names (Unicode Standard Annex 15, normalization form D)."""
    folder = a_folder(tmp_path, unicodedata.normalize("NFD", "Zoë.wav"))
    assert told(folder, {"files": unicodedata.normalize("NFC", "Zoë.wav")}) == []


@pytest.mark.parametrize(
    "name", ["../secret.wav", "sub/../../secret.wav", "/etc/hostname", r"C:\tapes\a.wav", r"..\secret.wav"]
)
def test_nothing_outside_of_the_folder_is_taken(folder, name):
    (folder.parent / "secret.wav").write_bytes(b"x")
    (folder / "sub").mkdir()
    (problem,) = told(folder, {}, {"files": name})
    assert problem == f"Row 3, column “files”: “{name}” lies outside of the folder. Copy it into the folder."


def test_links_are_not_followed(folder):
    (folder.parent / "secret.wav").write_bytes(b"x")
    (folder / "link.wav").symlink_to(folder.parent / "secret.wav")
    (folder / "elsewhere").symlink_to(folder.parent)
    for name in ("link.wav", "elsewhere/secret.wav"):
        (problem,) = told(folder, {}, {"files": name})
        assert problem.startswith(f"Row 3, column “files”: “{name}” is a link to another place.")


def test_a_link_that_takes_the_files_place_later_is_not_followed(folder):
    (row,) = check(folder, {}).rows
    path = row.files[0].path
    path.unlink()
    path.symlink_to("/etc/hostname")
    with pytest.raises(OSError, match=r"symbolic link|Too many levels"):
        storage.stage(uuid4(), path)


def test_a_cell_with_nothing_between_its_bars_is_told(folder):
    assert told(folder, {}, {"files": " | "}) == ["Row 3, column “files”: This cell names no file."]


def test_a_file_listed_twice_is_told(folder):
    assert told(folder, {}, {}) == ["Row 3, column “files”: “tape1.wav” is listed in row 2 already."]
    assert told(folder, {"files": "tape1.wav|tape1.wav"})[0].endswith("is listed in row 2 already.")


def test_other_capital_letters_are_told_with_the_name_that_is_there(folder):
    (problem, *_) = told(folder, {"files": "TAPE1.WAV"}, leave_unlisted=True)
    assert "“TAPE1.WAV” is not in the folder, but “tape1.wav” is: capital letters count." in problem


def test_an_empty_file_is_told(folder):
    (folder / "empty.wav").write_bytes(b"")
    assert told(folder, {}, {"files": "empty.wav"}) == [
        "Row 3, column “files”: “empty.wav” is empty: it holds no sound."
    ]


def test_a_file_too_large_is_told_with_both_sizes(folder, settings):
    settings.UPLOAD_MAX_BYTES = 10_000
    (problem,) = told(folder, {})
    assert problem.endswith("is larger than this site takes in one file (12.8 kB; at most 10.0 kB).")


def test_what_is_no_ordinary_file_is_told(folder):
    os.mkfifo(folder / "pipe.wav")
    assert told(folder, {}, {"files": "pipe.wav"}) == ["Row 3, column “files”: “pipe.wav” is no ordinary file."]


def test_files_that_no_row_names_are_told_unless_they_may_stay(folder):
    a_folder(folder, "forgotten.wav")
    (problem,) = told(folder, {})
    assert problem.startswith("“forgotten.wav” is in the folder, but no row names it.")
    assert told(folder, {}, leave_unlisted=True) == []


def test_what_computers_leave_in_folders_is_not_told(folder):
    for name in (".DS_Store", "Thumbs.db", "desktop.ini", "._tape1.wav"):
        (folder / name).write_bytes(b"x")
    assert told(folder, {}) == []


@pytest.mark.parametrize("sign", ["\u202e", "\u200b", "\x07"])
def test_signs_that_cannot_be_seen_are_told(folder, sign):
    problems = told(folder, {"files": f"tape1{sign}.wav"}, leave_unlisted=True)
    assert problems[0].startswith("Row 2, column “files”: This cell holds signs that cannot be seen")


def test_a_name_in_two_lines_is_told(folder):
    (problem,) = told(folder, {"narrator": "Marit\nOskarsen"})
    assert problem.startswith("Row 2, column “narrator”: This cell holds signs that cannot be seen, or a line break.")


def test_a_disk_too_small_for_all_is_told_before_anything_is_copied(folder, monkeypatch):
    monkeypatch.setattr(storage, "disks", lambda: [(("staging", "primary", "replica"), 30_000)])
    (problem,) = told(folder, {})
    assert problem == "The disk has 30.0 kB free; these recordings and their copies need 38.5 kB."


# Days


@pytest.mark.parametrize(
    ("written", "day"),
    [
        ("2026-03-14", date(2026, 3, 14)),
        ("14 Mar 2026", date(2026, 3, 14)),
        ("3 September 1987", date(1987, 9, 3)),
        ("3 Sept 1987", date(1987, 9, 3)),
        ("1. may 2026", date(2026, 5, 1)),
    ],
)
def test_a_day_is_read_where_it_can_be_read_in_one_way(written, day):
    assert day_as_written(written) == day


@pytest.mark.parametrize(
    ("written", "sentence"),
    [
        ("03/04/2026", "“03/04/2026” can be read as 2026-04-03 or as 2026-03-04. Write one of them."),
        ("25.12.2025", "“25.12.2025” is no day as it is written here. Write 2025-12-25."),
        ("12-25-2025", "“12-25-2025” is no day as it is written here. Write 2025-12-25."),
        ("03/03/2026", "“03/03/2026” is no day as it is written here. Write 2026-03-03."),
        ("45/45/2026", "“45/45/2026” is no day as it is written here."),
        ("1987", "“1987” is no day. Write it like 2026-03-14 or 14 March 2026."),
        ("31 Feb 2026", "“31 Feb 2026” is no day. Write it like 2026-03-14 or 14 March 2026."),
        ("14 Mayor 2026", "“14 Mayor 2026” is no day. Write it like 2026-03-14 or 14 March 2026."),
        ("20260314", "“20260314” is no day. Write it like 2026-03-14 or 14 March 2026."),
        ("46095", "“46095” is no day. Write it like 2026-03-14 or 14 March 2026."),
    ],
)
def test_a_day_that_can_be_read_in_two_ways_or_in_none_is_told(folder, written, sentence):
    assert told(folder, {"date": written}) == [f"Row 2, column “date”: {sentence}"]


def test_a_day_in_the_future_or_before_recording_is_told(folder):
    future = (timezone.localdate() + timedelta(days=2)).isoformat()
    assert told(folder, {"date": future}) == ["Row 2, column “date”: The day of the interview lies in the future."]
    (problem,) = told(folder, {"date": "1804-01-01"})
    assert "Nothing was recorded that long ago." in problem


# Words


def test_a_language_is_named_by_its_code_or_its_name(folder):
    for written in ("es", "ES", "Spanish"):
        assert check(folder, {"language": written}).rows[0].description.language == "es"


def test_a_collection_that_is_not_there_is_told(folder):
    (problem,) = told(folder, {"collection": "Both Bankss"})
    assert problem.startswith("Row 2, column “collection”: There is no collection “Both Bankss”.")
    assert told(folder, {"collection": "both banks:  THE crossing years"}) == []


def test_addresses_are_looked_at(folder):
    assert told(folder, {"giver_email": "jonna", "narrator_email": "@"}) == [
        "Row 2, column “narrator_email”: “@” is no e-mail address.",
        "Row 2, column “giver_email”: “jonna” is no e-mail address.",
    ]
    (problem,) = told(folder, {"interviewer": "", "interviewer_email": "i@example.org"})
    assert "There is an address, but no name" in problem


def test_narrator_and_interviewer_are_two_people(folder):
    (problem,) = told(folder, {"interviewer": "marit OSKARSEN"})
    assert problem == "Row 2, column “interviewer”: The narrator and the interviewer are two people."


def test_a_name_too_long_is_told(folder):
    (problem,) = told(folder, {"giver": "x" * 201})
    assert problem == "Row 2, column “giver”: This cell is longer than 200 signs."


@pytest.mark.parametrize(
    ("digests", "sentence"),
    [
        ("abc", "“abc” is no SHA-256: that is 64 hexadecimal digits."),
        (f"{'a' * 64}|{'b' * 64}", "There are 1 files and 2 digests."),
    ],
)
def test_digests_are_looked_at(folder, digests, sentence):
    assert f"Row 2, column “sha256”: {sentence}" in told(folder, {"sha256": digests})
