"""A signer's copy of a release that was signed on paper shows the scan and its evidence."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image
from pypdf import PdfReader, PdfWriter
from reportlab.lib.pagesizes import A4
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas

from intake.outputs.paper import OnPaper, ScannedPage, SignedRelease, release_pdf
from intake.outputs.paper import scan as scans
from intake.outputs.paper.scan import MAX_SIDE, MOST_PAGES, pictures_of
from tests.outputs.conftest import AUTUMN, digest_of

TextOf = Callable[[bytes], str]


def a_picture(form: str = "JPEG", size: tuple[int, int] = (620, 877), **how: object) -> bytes:
    made = BytesIO()
    Image.new("RGB", size, "ivory").save(made, form, **how)
    return made.getvalue()


@pytest.fixture
def on_paper(release: SignedRelease) -> SignedRelease:
    signature = OnPaper(
        form_number="F-7K2M-9QXD-4TBC",
        signed_on=date(2026, 10, 3),
        signed_by="Marit Oskarsen",
        handed_in_by="Tobias Wrenfield",
        handed_in_at=datetime(2026, 10, 4, 9, 0, tzinfo=AUTUMN),
        confirmed_by="Ines Halloway",
        confirmed_at=datetime(2026, 10, 5, 11, 30, tzinfo=AUTUMN),
        scans=(
            ScannedPage("form-1.jpg", 2_400_512, digest_of("one"), (a_picture(),)),
            ScannedPage("form-2.heic", 80_000, digest_of("two"), ()),
        ),
    )
    return replace(release, signature=signature)


def test_the_copy_says_that_it_was_signed_on_paper_and_who_confirmed_it(
    on_paper: SignedRelease, text_of: TextOf
) -> None:
    text = text_of(release_pdf(on_paper))
    for fact in (
        "what was agreed on 3 Oct 2026",
        "Signed by hand on the printed form F-7K2M-9QXD-4TBC, on 3 Oct 2026.",
        "Confirmed from its scan by Ines Halloway, 5 Oct 2026, 11:30 (CDT, UTC-05:00).",
        "Handed in by Tobias Wrenfield",
        "form-1.jpg",
        "2,400,512 bytes",
        "form-2.heic",
    ):
        assert fact in text, fact
    assert "Agreed to sign on screen" not in text
    for what in ("one", "two"):
        assert digest_of(what) in text.replace(" ", "")


def test_no_heading_stands_on_a_page_without_its_scan(
    on_paper: SignedRelease, pages_of: Callable[[bytes], list[str]]
) -> None:
    (page,) = [page for page in pages_of(release_pdf(on_paper)) if "Scans of the signed form" in page]
    assert "form-1.jpg" in page


def test_the_picture_of_the_scan_is_in_the_paper(on_paper: SignedRelease) -> None:
    (picture,) = [image for page in PdfReader(BytesIO(release_pdf(on_paper))).pages for image in page.images]
    assert picture.image is not None
    assert picture.image.size == (620, 877)


def test_a_signature_on_paper_without_a_scan_is_refused(on_paper: SignedRelease) -> None:
    with pytest.raises(ValueError, match="needs the scan"):
        release_pdf(replace(on_paper, signature=replace(on_paper.signature, scans=())))


def test_the_same_data_give_the_same_bytes(on_paper: SignedRelease) -> None:
    assert release_pdf(on_paper) == release_pdf(on_paper)


# The picture of a scan


@pytest.mark.parametrize(
    ("form", "media_type"),
    [("JPEG", "image/jpeg"), ("PNG", "image/png"), ("TIFF", "image/tiff"), ("WEBP", "image/webp")],
)
def test_every_kind_of_picture_becomes_a_small_jpeg(tmp_path: Path, form: str, media_type: str) -> None:
    path = tmp_path / "scan"
    path.write_bytes(a_picture(form, (3000, 4000)))
    (jpeg,) = pictures_of(path, media_type)
    with Image.open(BytesIO(jpeg)) as picture:
        assert (picture.format, max(picture.size)) == ("JPEG", MAX_SIDE)


def test_a_photo_taken_sideways_is_turned_upright(tmp_path: Path) -> None:
    """Exif 2.32, tag 0x0112: 6 is "turn it a quarter clockwise"."""
    exif = Image.Exif()
    exif[0x0112] = 6
    path = tmp_path / "scan"
    path.write_bytes(a_picture(size=(800, 600), exif=exif))
    (jpeg,) = pictures_of(path, "image/jpeg")
    with Image.open(BytesIO(jpeg)) as picture:
        assert picture.size == (600, 800)


@pytest.mark.parametrize("content", [b"", b"\xff\xd8\xff", a_picture()[:200], b"%PDF-1.7"])
def test_what_cannot_be_read_has_no_picture(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "scan"
    path.write_bytes(content)
    assert pictures_of(path, "image/jpeg") == []
    assert pictures_of(path, "application/pdf") == []


def a_pdf(pages: int, size: tuple[float, float] = A4) -> bytes:
    """A PDF as an office scanner makes it: a picture a page."""
    made = BytesIO()
    canvas = Canvas(made, pagesize=size)
    for _ in range(pages):
        canvas.drawImage(ImageReader(BytesIO(a_picture())), 0, 0, *size)
        canvas.showPage()
    canvas.save()
    return made.getvalue()


@pytest.mark.parametrize(("pages", "drawn"), [(1, 1), (3, 3), (MOST_PAGES + 5, MOST_PAGES)])
def test_the_pages_of_a_pdf_are_drawn_and_no_more_than_a_form_has(tmp_path: Path, pages: int, drawn: int) -> None:
    path = tmp_path / "scan"
    path.write_bytes(a_pdf(pages))
    found = pictures_of(path, "application/pdf")
    assert len(found) == drawn
    with Image.open(BytesIO(found[0])) as picture:
        assert max(picture.size) == MAX_SIDE


def test_a_page_as_large_as_a_pdf_may_say_is_drawn_no_larger_than_others(tmp_path: Path) -> None:
    """ISO 32000-1, annex C: 14,400 units."""
    path = tmp_path / "scan"
    path.write_bytes(a_pdf(1, (14_400, 14_400)))
    (jpeg,) = pictures_of(path, "application/pdf")
    with Image.open(BytesIO(jpeg)) as picture:
        assert picture.size == (MAX_SIDE, MAX_SIDE)


def test_a_damaged_pdf_gives_what_can_be_read_of_it_or_nothing(tmp_path: Path) -> None:
    path, whole = tmp_path / "scan", a_pdf(2)
    for end in range(0, len(whole), len(whole) // 40):
        path.write_bytes(whole[:end])
        assert len(pictures_of(path, "application/pdf")) <= 2


def test_a_pdf_with_a_password_has_no_picture(tmp_path: Path) -> None:
    locked = PdfWriter(clone_from=BytesIO(a_pdf(1)))
    locked.encrypt("river")
    path = tmp_path / "scan"
    locked.write(path)
    assert pictures_of(path, "application/pdf") == []


def test_every_page_of_a_tiff_is_a_picture(tmp_path: Path) -> None:
    first, *others = [Image.new("RGB", (200, 300), colour) for colour in ("ivory", "linen", "snow")]
    path = tmp_path / "scan"
    first.save(path, "TIFF", save_all=True, append_images=others)
    assert len(pictures_of(path, "image/tiff")) == 3


def test_another_format_than_the_one_named_is_not_tried(tmp_path: Path) -> None:
    path = tmp_path / "scan"
    path.write_bytes(a_picture("PNG"))
    assert pictures_of(path, "image/jpeg") == []


def test_more_pixels_than_a_page_has_are_not_unpacked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(scans, "MAX_PIXELS", 1000)
    path = tmp_path / "scan"
    path.write_bytes(a_picture(size=(40, 26)))
    assert pictures_of(path, "image/jpeg") == []
