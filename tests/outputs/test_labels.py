"""Label sheets: every label in its place, its code readable, and nothing on it that a passer-by may not see."""

import shutil
import subprocess
from datetime import UTC, datetime
from io import BytesIO

import pytest
import zxingcpp
from PIL import Image
from pypdf import PdfReader

from intake.errors import Refused
from intake.interviews.models import State
from intake.outputs.labels import label_sheet
from intake.outputs.paper import Label, labels_pdf
from tests.factories import an_accession, an_interview
from tests.needs import needs

AT = datetime(2026, 11, 24, 15, 5, tzinfo=UTC)
ADDRESS = "https://history.alderferry.example.org/check/R-4H78-9SW9-3XN5/"


def sheet(count: int, *, first: int = 1, name: str = "Marit Oskarsen") -> bytes:
    labels = [Label(f"2026-{number:04d}", "Papers", (name, "Open"), ADDRESS) for number in range(1, count + 1)]
    return labels_pdf(labels, first=first, title="Labels", author="Alder Ferry", dated=AT)


def pages(pdf: bytes, tmp_path) -> list[Image.Image]:
    """The pages as a printer prints them (poppler), at 150 dots per inch."""
    needs("pdftoppm", shutil.which("pdftoppm"))
    (tmp_path / "labels.pdf").write_bytes(pdf)
    subprocess.run(["pdftoppm", "-r", "150", "-png", "labels.pdf", "page"], cwd=tmp_path, check=True)
    return [Image.open(path) for path in sorted(tmp_path.glob("page*.png"))]


def test_labels_go_on_from_the_first_free_place_and_over_to_a_new_sheet():
    found = [page.extract_text() for page in PdfReader(BytesIO(sheet(25, first=24))).pages]
    assert [text.count("2026-") for text in found] == [1, 24]


def test_a_place_that_is_not_on_the_sheet_is_refused():
    for first in (0, 25):
        with pytest.raises(ValueError, match="1 to 24"):
            sheet(1, first=first)


def test_every_code_is_read_back_from_the_printed_sheet(tmp_path):
    (page,) = pages(sheet(24), tmp_path)
    codes = zxingcpp.read_barcodes(page)
    assert [code.text for code in codes] == [ADDRESS] * 24


def test_every_label_stands_within_its_own_frame(tmp_path):
    """Nothing is printed in the outer 3 mm of any label, where the cut and the printer's play are."""
    (page,) = pages(sheet(24, name="A name as long as names are when four people speak " * 3), tmp_path)
    dots = 150 / 25.4
    grey = page.convert("L")
    top = (297 - 8 * 37) / 2
    for column in range(3):
        for row in range(8):
            x, y = column * 70, top + row * 37
            label = grey.crop([round(at * dots) for at in (x, y, x + 70, y + 37)])
            inner = grey.crop([round(at * dots) for at in (x + 3, y + 3, x + 67, y + 34)])
            dark = sum(label.histogram()[:200])
            assert dark == sum(inner.histogram()[:200]) > 0


def test_every_face_is_embedded_and_the_file_is_sound(tmp_path):
    needs("pdffonts and qpdf", shutil.which("pdffonts") and shutil.which("qpdf"))
    path = tmp_path / "labels.pdf"
    path.write_bytes(sheet(3))
    rows = subprocess.run(["pdffonts", path], capture_output=True, text=True, check=True).stdout.splitlines()[2:]
    assert rows
    assert all(row.split()[-5] == "yes" for row in rows)
    assert subprocess.run(["qpdf", "--check", path], capture_output=True, check=False).returncode == 0
    assert sheet(3) == sheet(3)


@pytest.mark.django_db
class TestOfAnInterview:
    def test_a_label_says_what_it_is_of_and_leaves_a_withheld_name_out(self, archivist):
        accession = an_accession(reviewer=archivist, chosen={"name_withheld": True})
        pdf = label_sheet(accession.interview, papers=1, copies=1, first=1)
        text = " ".join(PdfReader(BytesIO(pdf)).pages[0].extract_text().split())
        assert text.count(accession.number) == 2
        assert "Papers: closed, names inside" in text
        assert "Copy: closed passages are silent" in text
        assert "narrator, name withheld" in text
        assert "Oskarsen" not in text

    @pytest.mark.parametrize(
        ("asked", "why"),
        [
            ({"papers": 0, "copies": 0, "first": 1}, "Ask for 1 to 120"),
            ({"papers": 100, "copies": 21, "first": 1}, "Ask for 1 to 120"),
            ({"papers": 1, "copies": 0, "first": 25}, "places 1 to 24"),
        ],
    )
    def test_too_many_or_none_is_refused(self, archivist, asked, why):
        with pytest.raises(Refused, match=why):
            label_sheet(an_accession(reviewer=archivist).interview, **asked)

    def test_there_is_none_before_the_acceptance(self):
        with pytest.raises(Refused, match="before the interview is accepted"):
            label_sheet(an_interview(State.SUBMITTED), papers=1, copies=0, first=1)
