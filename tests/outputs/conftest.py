"""One invented receipt and one invented release, and the words that a reader finds in a paper."""

import hashlib
from collections.abc import Callable
from datetime import date, datetime, timedelta, timezone
from io import BytesIO

import pytest
from PIL import Image, ImageDraw
from pypdf import PdfReader

from intake.outputs.paper import Library, OnScreen, Receipt, ReceiptAttachment, ReceiptPart, SignedRelease, SignedTerms

AUTUMN = timezone(timedelta(hours=-5), "CDT")
WINTER = timezone(timedelta(hours=-6), "CST")
LIBRARY = Library(
    name="Alder Ferry Public Library",
    room="Local History Room",
    contact="12 Landing Street, Alder Ferry\nhistory@alderferry.example.org",
)
WORDING = (
    "I am the narrator named above, and I took part of my own free will.\n\n"
    "I give the library a licence, without time limit, to keep the recording and to copy it so that it lasts.\n"
    "The rights in my own words stay with me.\n\n"
    "I can withdraw before the interview is published without giving a reason."
)


def digest_of(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


def a_drawing(width: int = 600, height: int = 200) -> bytes:
    """A stroke on a transparent ground, as a signature pad sends it."""
    image = Image.new("RGBA", (width, height), (0, 0, 0, 0))
    ImageDraw.Draw(image).line([(20, 150), (200, 40), (320, 160), (560, 60)], fill=(20, 20, 40, 255), width=6)
    png = BytesIO()
    image.save(png, "PNG")
    return png.getvalue()


@pytest.fixture
def receipt() -> Receipt:
    return Receipt(
        number="R-2026-0014",
        check_url="https://history.alderferry.example.org/paper/R-2026-0014/k7f2q9",
        issued_at=datetime(2026, 11, 25, 9, 30, tzinfo=WINTER),
        library=LIBRARY,
        accession_number="2026-0042",
        accepted_at=datetime(2026, 11, 24, 15, 5, tzinfo=WINTER),
        accepted_by="Ines Halloway, archivist",
        title="Marit Oskarsen on forty years of the cable ferry",
        collection="Both Banks: the crossing years",
        narrators=("Marit Oskarsen", "Aurel Lindqvist"),
        interviewers=("Tobias Wrenfield",),
        recorded_on=date(2026, 10, 3),
        place="The kitchen of the old toll house",
        given_by="Tobias Wrenfield, volunteer",
        parts=(
            ReceiptPart(1, "TOLL0007.WAV", 2530.4, 728_755_244, digest_of("one"), "WAV, 24-bit, 48 kHz, stereo"),
            ReceiptPart(2, "TOLL0008.WAV", 1294.6, 372_844_844, digest_of("two"), "WAV, 16-bit, 44.1 kHz, mono"),
        ),
        attachments=(
            ReceiptAttachment("Photograph", "The toll house in 1954", "porch.jpg", 2_400_512, digest_of("three")),
        ),
        terms=(
            SignedTerms(
                signer="Marit Oskarsen",
                role="narrator",
                wording="Release for the collection, version 3",
                signed="Signed 3 Oct 2026, 16:20 (CDT, UTC-05:00).",
                restriction="The passage about the strike is closed until 1 Jan 2040.",
            ),
        ),
        restriction="Part 2, 0:12:40 to 0:19:05, is closed until 1 Jan 2040.",
        next_steps="We describe the interview for the catalogue.\n\nYou then get a letter with its address.",
    )


@pytest.fixture
def release() -> SignedRelease:
    return SignedRelease(
        number="S-2026-0031",
        check_url="https://history.alderferry.example.org/paper/S-2026-0031/m3x8aa",
        library=LIBRARY,
        interview="Marit Oskarsen on forty years of the cable ferry",
        recorded_on=date(2026, 10, 3),
        place="The kitchen of the old toll house",
        signer="Marit Oskarsen",
        role="narrator",
        wording_title="Release for the collection",
        wording_version="3",
        wording_language="English (en)",
        wording_text=WORDING,
        wording_sha256=digest_of(WORDING),
        restriction="Part 2, 0:12:40 to 0:19:05, is closed until 1 Jan 2040.",
        choices=("The recording may be heard on the library's website.", "My name may be printed with it."),
        signature=OnScreen(
            method="drawn",
            typed_name="",
            signature_png=a_drawing(),
            signed_at=datetime(2026, 10, 3, 16, 20, 41, tzinfo=AUTUMN),
            consented_to_electronic_at=datetime(2026, 10, 3, 16, 12, 3, tzinfo=AUTUMN),
            address="203.0.113.24",
            agent="Mozilla/5.0 (Linux; Android 15; Tablet)",
            opened_by="Tobias Wrenfield",
        ),
    )


@pytest.fixture
def pages_of() -> Callable[[bytes], list[str]]:
    """The text of each page as an independent reader (pypdf) extracts it, every run of white space as one space."""

    def extract(pdf: bytes) -> list[str]:
        return [" ".join(page.extract_text().split()) for page in PdfReader(BytesIO(pdf)).pages]

    return extract


@pytest.fixture
def text_of(pages_of: Callable[[bytes], list[str]]) -> Callable[[bytes], str]:
    return lambda pdf: " ".join(pages_of(pdf))


@pytest.fixture
def drawing() -> Callable[..., bytes]:
    return a_drawing
