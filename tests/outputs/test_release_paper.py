"""A signer's copy holds the wording word for word, the choices, the signature and its evidence."""

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from io import BytesIO

import pytest
from pypdf import PdfReader

from intake.outputs.paper import SignedRelease, release_pdf

TextOf = Callable[[bytes], str]
PagesOf = Callable[[bytes], list[str]]


def typed(release: SignedRelease, name: str = "Marit Oskarsen") -> SignedRelease:
    return signed(release, method="typed", typed_name=name, signature_png=None)


def signed(release: SignedRelease, **changes: object) -> SignedRelease:
    """The same release with another signature."""
    return replace(release, signature=replace(release.signature, **changes))  # type: ignore[arg-type]


def test_the_copy_holds_the_wording_word_for_word(release: SignedRelease, text_of: TextOf) -> None:
    text = text_of(release_pdf(release))
    assert "What was signed, word for word" in text
    assert " ".join(release.wording_text.split()) in text


def test_the_copy_says_every_fact(release: SignedRelease, text_of: TextOf) -> None:
    text = text_of(release_pdf(release))
    for fact in (
        "Copy of a signed release",
        "S-2026-0031",
        "Alder Ferry Public Library",
        "Marit Oskarsen on forty years of the cable ferry",
        "3 Oct 2026",
        "The kitchen of the old toll house",
        "Marit Oskarsen (narrator)",
        "Release for the collection",
        "Version 3, language: English (en)",
        "The recording may be heard on the library's website.",
        "My name may be printed with it.",
        "Part 2, 0:12:40 to 0:19:05, is closed until 1 Jan 2040.",
        "gives no legal advice",
    ):
        assert fact in text, fact
    assert release.check_url in "".join(text.split())


def test_the_evidence_stands_on_its_own_page(release: SignedRelease, pages_of: PagesOf) -> None:
    *_, evidence = pages_of(release_pdf(release))
    for fact in (
        "Evidence of this signature",
        "Marit Oskarsen on forty years of the cable ferry",
        "The kitchen of the old toll house",
        "Drawn by hand on the screen",
        "Signed at 3 Oct 2026, 16:20:41 (CDT, UTC-05:00)",
        "Agreed to sign on screen 3 Oct 2026, 16:12:03 (CDT, UTC-05:00)",
        "203.0.113.24",
        "Mozilla/5.0 (Linux; Android 15; Tablet)",
        "Device handed over by Tobias Wrenfield",
    ):
        assert fact in evidence, fact
    assert release.wording_sha256 in evidence.replace(" ", "")


def test_a_drawn_signature_is_in_the_paper_as_a_picture(release: SignedRelease) -> None:
    *_, picture = [image for page in PdfReader(BytesIO(release_pdf(release))).pages for image in page.images]
    assert picture.image is not None
    shown = picture.image.convert("RGB")
    assert shown.size == (600, 200)
    assert shown.getpixel((20, 150)) == (20, 20, 40)
    assert shown.getpixel((0, 0)) == (255, 255, 255)


def test_a_typed_signature_is_printed_and_said_to_be_typed(release: SignedRelease, text_of: TextOf) -> None:
    pdf = release_pdf(typed(release, "M. Oskarsen <signed>"))
    text = text_of(pdf)
    assert "Typed in place of a drawn signature: M. Oskarsen <signed>" in text
    assert text.count("M. Oskarsen <signed>") == 2
    assert not [image for page in PdfReader(BytesIO(pdf)).pages for image in page.images]


def test_a_copy_without_the_signature_that_it_claims_is_refused(release: SignedRelease) -> None:
    with pytest.raises(ValueError, match="needs its drawing"):
        release_pdf(signed(release, signature_png=None))
    with pytest.raises(ValueError, match="name that was typed"):
        release_pdf(typed(release, "  "))
    with pytest.raises(ValueError, match="drawn, typed"):
        release_pdf(signed(release, method="stamped"))
    with pytest.raises(ValueError, match="not a PNG"):
        release_pdf(signed(release, signature_png=b"GIF89a"))


def test_times_without_zone_are_refused(release: SignedRelease) -> None:
    naive = datetime(2026, 10, 3, 16, 20)  # noqa: DTZ001
    for field in ("signed_at", "consented_to_electronic_at"):
        with pytest.raises(ValueError, match="time zone"):
            release_pdf(signed(release, **{field: naive}))


def test_the_same_data_give_the_same_bytes_and_other_data_others(release: SignedRelease) -> None:
    assert release_pdf(release) == release_pdf(release)
    assert release_pdf(typed(release)) == release_pdf(typed(release))
    assert release_pdf(typed(release, "M. Oskarsen")) != release_pdf(typed(release))


def test_a_wording_of_eight_pages_is_whole_and_numbered(release: SignedRelease, pages_of: PagesOf) -> None:
    clauses = [f"Clause {n}. I give the library leave to keep and copy the recording. " * 12 for n in range(1, 41)]
    pages = pages_of(release_pdf(replace(release, wording_text="\n\n".join(clauses))))
    assert 8 <= len(pages) <= 14
    assert [f"Page {n} of {len(pages)}" in text for n, text in enumerate(pages, start=1)] == [True] * len(pages)
    assert sum(text.count("leave to keep and copy the recording.") for text in pages) >= 40 * 12 - len(pages)


def test_a_signature_never_stands_on_a_page_without_its_restriction(release: SignedRelease, pages_of: PagesOf) -> None:
    for count in range(1, 30, 2):
        pages = pages_of(release_pdf(replace(release, wording_text="\n\n".join(["One clause of many."] * count))))
        (signed,) = [text for text in pages if "Signature" in text]
        assert release.restriction in signed, count


def test_a_wording_that_cannot_be_printed_is_said_to_be_on_the_web_page(
    release: SignedRelease, text_of: TextOf
) -> None:
    wording = "أنا الراوي.\n\nأعطي المكتبة.\n\nThe word 河 means river & <i>more</i>."
    text = text_of(release_pdf(replace(release, wording_text=wording)))
    assert "word for word" in text.partition("whose address is at the top.")[0]
    assert "What was signed, as far as this paper can print it" in text
    assert "These 2 passages are shown in full on the web page of this paper." in text
    assert "The word […] means river & <i>more</i>." in text


def test_markup_in_what_people_typed_is_printed_as_text(release: SignedRelease, text_of: TextOf) -> None:
    odd = "<b>&amp;</b>"
    changes = dict.fromkeys(("interview", "place", "signer", "role", "wording_title", "restriction"), odd)
    oddly = replace(signed(release, opened_by=odd, agent=odd), choices=(odd,), **changes)  # type: ignore[arg-type]
    text = text_of(release_pdf(oddly))
    assert text.count(odd) >= 11
