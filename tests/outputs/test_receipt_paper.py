"""The acceptance receipt says every fact, literally, and the same data give the same bytes."""

import hashlib
import shutil
import subprocess
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path

import pytest
import qrcode
from PIL import Image
from pypdf import PdfReader

from intake.outputs.paper import Library, Receipt, ReceiptPart, receipt_pdf

TextOf = Callable[[bytes], str]
PagesOf = Callable[[bytes], list[str]]


def forty_parts() -> tuple[ReceiptPart, ...]:
    return tuple(
        ReceiptPart(
            position,
            f"session {position:02d} {'W' * 240 if position == 7 else ''}.WAV",
            1800.0,
            259_200_044,
            hashlib.sha256(str(position).encode()).hexdigest(),
            "WAV, 24-bit, 48 kHz, mono",
        )
        for position in range(1, 41)
    )


def test_the_receipt_says_every_fact(receipt: Receipt, text_of: TextOf) -> None:
    text = text_of(receipt_pdf(receipt))
    for fact in (
        "Acceptance receipt",
        "R-2026-0014",
        "Alder Ferry Public Library",
        "Local History Room",
        "12 Landing Street, Alder Ferry",
        "history@alderferry.example.org",
        "2026-0042",
        "24 Nov 2026, 15:05 (CST, UTC-06:00)",
        "25 Nov 2026, 09:30 (CST, UTC-06:00)",
        "Ines Halloway, archivist",
        "Marit Oskarsen on forty years of the cable ferry",
        "Both Banks: the crossing years",
        "Aurel Lindqvist",
        "Tobias Wrenfield, volunteer",
        "3 Oct 2026",
        "The kitchen of the old toll house",
        "TOLL0007.WAV",
        "WAV, 24-bit, 48 kHz, stereo",
        "0:42:10",
        "728.8 MB",
        "728,755,244 bytes",
        "TOLL0008.WAV",
        "0:21:35",
        "372,844,844 bytes",
        "2 parts in all",
        "1:03:45",
        "1.1 GB",
        "1,101,600,088 bytes",
        "Marit Oskarsen (narrator)",
        "Release for the collection, version 3",
        "Signed 3 Oct 2026, 16:20 (CDT, UTC-05:00)",
        "The passage about the strike is closed until 1 Jan 2040.",
        "Part 2, 0:12:40 to 0:19:05, is closed until 1 Jan 2040.",
        "We describe the interview for the catalogue.",
        "You then get a letter with its address.",
        "gives no legal advice",
        "byte for byte",
        "withdraw",
    ):
        assert fact in text, fact


def test_every_digest_and_the_check_address_can_be_read_back_whole(receipt: Receipt, text_of: TextOf) -> None:
    unspaced = "".join(text_of(receipt_pdf(receipt)).split())
    assert receipt.parts[0].sha256 in unspaced
    assert receipt.parts[1].sha256 in unspaced
    assert receipt.check_url in unspaced


def test_markup_in_names_is_printed_as_text(receipt: Receipt, text_of: TextOf) -> None:
    title, name = '<b>Bold</b> & <font size="90">big</font> &amp; </para>', "<img src='x'/> O'Neil"
    text = text_of(receipt_pdf(replace(receipt, title=title, narrators=(name,), accession_number="<i>7</i>")))
    assert title in text
    assert name in text
    assert "Accession number <i>7</i>" in text


def test_the_same_data_give_the_same_bytes_and_other_data_others(receipt: Receipt) -> None:
    first = receipt_pdf(receipt)
    assert receipt_pdf(receipt) == first
    assert receipt_pdf(replace(receipt, place="The other bank")) != first


def test_the_file_names_its_title_author_language_and_date(receipt: Receipt) -> None:
    reader = PdfReader(BytesIO(receipt_pdf(receipt)))
    facts = reader.metadata
    assert facts is not None
    assert facts.title == "Acceptance receipt R-2026-0014: Marit Oskarsen on forty years of the cable ferry"
    assert facts.author == "Alder Ferry Public Library"
    assert facts.creation_date == datetime(2026, 11, 25, 15, 30, tzinfo=UTC)
    assert reader.root_object["/Lang"] == "en-GB"


def test_every_font_is_embedded(receipt: Receipt) -> None:
    faces = {}
    for page in PdfReader(BytesIO(receipt_pdf(receipt))).pages:
        for font in page["/Resources"]["/Font"].values():  # type: ignore[index]
            faces[font.get_object()["/BaseFont"]] = "/FontFile2" in font.get_object().get("/FontDescriptor", {})
    assert faces
    assert all(faces.values()), faces


def test_names_that_cannot_be_drawn_are_said_to_stand_on_the_web_page(receipt: Receipt, text_of: TextOf) -> None:
    text = text_of(receipt_pdf(replace(receipt, narrators=("陳美 Mei Chen", "محمد"), title="川")))
    assert "[…] Mei Chen This name is shown in full on the web page of this paper." in text
    assert text.count("This name is shown in full") == 2
    assert "This title is shown in full on the web page of this paper." in text
    assert "陳" not in text


def test_forty_parts_and_long_texts_flow_over_numbered_pages(receipt: Receipt, pages_of: PagesOf) -> None:
    long = replace(
        receipt, title="The long crossing " * 17, parts=forty_parts(), next_steps="One more sentence. " * 400
    )
    pages = pages_of(receipt_pdf(long))
    assert 5 <= len(pages) <= 9
    for number, text in enumerate(pages, start=1):
        assert f"Page {number} of {len(pages)}" in text
        assert "Acceptance receipt R-2026-0014" in text
    whole = "".join(pages).replace(" ", "")
    assert all(part.sha256 in whole for part in long.parts)
    assert "20:00:00" in whole
    assert "W" * 240 in whole


def test_no_file_row_is_torn_by_a_page_break(receipt: Receipt, pages_of: PagesOf) -> None:
    pages = [text.replace(" ", "") for text in pages_of(receipt_pdf(replace(receipt, parts=forty_parts())))]
    for part in forty_parts():
        assert any(part.sha256 in text and f"session{part.position:02d}" in text for text in pages), part.position


def test_the_total_never_stands_alone_on_a_page(receipt: Receipt, pages_of: PagesOf) -> None:
    for count in range(2, 16):
        parts = forty_parts()[:count]
        pages = pages_of(receipt_pdf(replace(receipt, parts=parts)))
        (total,) = [text.replace(" ", "") for text in pages if f"{count} parts in all" in text]
        assert parts[-1].sha256 in total, count


@pytest.mark.parametrize(
    "changes",
    [
        {"title": "T" * 5000},
        {"title": "\x00\ud800\u202e"},
        {"narrators": (), "interviewers": (), "terms": (), "restriction": "", "place": "", "parts": ()},
        {"library": Library("L" * 300, "R" * 200, "\n".join(["line"] * 25))},
        {"restriction": "word " * 3000},
        {"check_url": "https://example.org/" + "a" * 700},
        {"number": "N" * 200},
    ],
)
def test_no_text_is_too_awkward_to_print(receipt: Receipt, changes: dict[str, object], pages_of: PagesOf) -> None:
    assert "Page 1 of" in pages_of(receipt_pdf(replace(receipt, **changes)))[0]  # type: ignore[arg-type]


def test_what_is_not_stated_is_said_to_be_so(receipt: Receipt, text_of: TextOf) -> None:
    text = text_of(receipt_pdf(replace(receipt, place="", interviewers=(), terms=())))
    assert "Place Not stated" in text
    assert "Interviewers Not stated" in text
    assert "No signed release stands behind this receipt." in text


def test_a_receipt_without_zone_or_with_a_cut_digest_is_refused(receipt: Receipt) -> None:
    with pytest.raises(ValueError, match="time zone"):
        receipt_pdf(replace(receipt, accepted_at=datetime(2026, 11, 24, 15, 5)))  # noqa: DTZ001
    cut = replace(receipt.parts[0], sha256=receipt.parts[0].sha256[:40])
    with pytest.raises(ValueError, match="64 hexadecimal"):
        receipt_pdf(replace(receipt, parts=(cut,)))


def test_the_printed_code_is_the_qr_code_of_the_check_address(receipt: Receipt, tmp_path: Path) -> None:
    """Rendered by Poppler and compared, module by module, with the code that the package `qrcode` makes.

    ISO/IEC 18004 lets an encoder choose any of 8 masks, so one of the eight must agree in every module.
    """
    if not shutil.which("pdftoppm"):
        pytest.skip("pdftoppm (Poppler) is not installed")
    expected = [qr_matrix(receipt.check_url, mask) for mask in range(8)]
    printed = printed_modules(receipt_pdf(receipt), tmp_path, count=len(expected[0]))
    assert printed in expected
    assert printed not in [qr_matrix(receipt.check_url + "x", mask) for mask in range(8)]


def qr_matrix(text: str, mask: int) -> list[list[bool]]:
    code = qrcode.QRCode(error_correction=qrcode.ERROR_CORRECT_M, border=0, mask_pattern=mask)
    code.add_data(text, optimize=0)
    code.make(fit=True)
    return [[bool(module) for module in row] for row in code.get_matrix()]


def printed_modules(pdf: bytes, folder: Path, *, count: int) -> list[list[bool]]:
    """Dark or light at the centre of each module of the code at the top right of the first page."""
    (folder / "paper.pdf").write_bytes(pdf)
    command = ["pdftoppm", "-r", "300", "-gray", "-png", "-l", "1", "-singlefile", "paper.pdf", "page"]
    subprocess.run(command, cwd=folder, check=True)
    page = Image.open(folder / "page.png").convert("L")
    millimetre = page.width / 210
    corner = page.crop(tuple(round(edge * millimetre) for edge in (163, 8, 210, 44)))  # type: ignore[arg-type]
    dark = corner.point(lambda grey: 255 if grey < 128 else 0)
    box = dark.getbbox()
    assert box is not None
    code = dark.crop(box)
    step = code.width / count
    centres = [int((index + 0.5) * step) for index in range(count)]
    return [[code.getpixel((x, y)) == 255 for x in centres] for y in centres]


def test_attachments_stand_in_a_table_of_their_own_after_the_parts(receipt: Receipt, text_of: TextOf) -> None:
    text = text_of(receipt_pdf(receipt))
    assert "Photograph: porch.jpg The toll house in 1954" in text
    assert "2,400,512 bytes" in text
    assert text.index("2 parts in all") < text.index("Photograph: porch.jpg")
    assert receipt.attachments[0].sha256 in text.replace(" ", "")
    assert "Attachments" not in text_of(receipt_pdf(replace(receipt, attachments=())))
