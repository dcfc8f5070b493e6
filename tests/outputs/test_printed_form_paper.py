"""A form to be signed by hand: the wording word for word, empty boxes, lines, and what it can be checked by."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime

import pytest

from intake.outputs.paper import FormToSign, printed_form_pdf
from intake.outputs.paper.printed_form import BOX, NotPrintable
from tests.outputs.conftest import AUTUMN, LIBRARY, WORDING, digest_of

TextOf = Callable[[bytes], str]
PagesOf = Callable[[bytes], list[str]]


@pytest.fixture
def form() -> FormToSign:
    return FormToSign(
        number="F-7K2M-9QXD-4TBC",
        check_url="https://history.alderferry.example.org/check/F-7K2M-9QXD-4TBC/",
        library=LIBRARY,
        interview="Marit Oskarsen on forty years of the cable ferry",
        recorded_on=date(2026, 10, 3),
        place="The kitchen of the old toll house",
        signer="Marit Oskarsen",
        role="Narrator",
        wording_title="Release for the collection",
        wording_version="3",
        wording_language="en",
        wording_itself=WORDING,
        wording_text=WORDING,
        wording_sha256=digest_of(WORDING),
        choices=("Open: anyone may hear it.", "On site only."),
        closed_choice="Closed until a date.",
        licences=("Creative Commons Attribution 4.0.",),
        printed_at=datetime(2026, 10, 3, 15, 0, tzinfo=AUTUMN),
    )


def test_the_form_says_every_fact(form: FormToSign, text_of: TextOf) -> None:
    text = text_of(printed_form_pdf(form))
    for fact in (
        "Release form",
        "F-7K2M-9QXD-4TBC",
        "Marit Oskarsen (Narrator)",
        "3 Oct 2026",
        "Version 3, language: en",
        "Open: anyone may hear it.",
        "On site only.",
        "Closed until, at the latest (day, month, year):",
        "My name may be shown.",
        "Withhold my name.",
        "Name in capital letters",
        "gives no legal advice",
    ):
        assert fact in text, fact
    assert " ".join(WORDING.split()) in text
    assert form.wording_sha256 in text.replace(" ", "")


def test_nothing_is_ticked_beforehand(form: FormToSign, text_of: TextOf) -> None:
    text = text_of(printed_form_pdf(form))
    assert text.count(BOX) == len(form.choices) + 1 + 1 + len(form.licences) + 2
    assert "\N{BALLOT BOX WITH CHECK}" not in text
    assert "\N{BALLOT BOX WITH X}" not in text


def test_the_number_stands_on_every_page(form: FormToSign, pages_of: PagesOf) -> None:
    long = replace(form, wording_text="\n\n".join([WORDING] * 9))
    pages = pages_of(printed_form_pdf(long))
    assert len(pages) > 2
    assert all(f"Release form {form.number}" in page for page in pages)


def test_the_signature_stands_with_what_it_is_for(form: FormToSign, pages_of: PagesOf) -> None:
    for count in range(1, 30, 3):
        pages = pages_of(printed_form_pdf(replace(form, wording_text="\n\n".join(["One clause of many."] * count))))
        (signed,) = [page for page in pages if "Your signature" in page]
        assert "I have read the release above, and I sign it." in signed, count


def test_the_same_form_gives_the_same_bytes(form: FormToSign) -> None:
    assert printed_form_pdf(form) == printed_form_pdf(form)
    assert printed_form_pdf(form) != printed_form_pdf(replace(form, signer="Marit Oskarsen-Holm"))


def test_nobody_is_asked_to_sign_what_cannot_be_printed(form: FormToSign) -> None:
    with pytest.raises(NotPrintable, match="cannot be printed"):
        printed_form_pdf(replace(form, wording_itself="أنا الراوي."))


def test_a_name_that_cannot_be_printed_keeps_nobody_from_signing_on_paper(form: FormToSign, text_of: TextOf) -> None:
    text = text_of(printed_form_pdf(replace(form, wording_text="I, مريم Oskarsen, agree.", signer="مريم Oskarsen")))
    assert "I, […] Oskarsen, agree." in text
    assert "Name in capital letters" in text


def test_markup_in_what_people_typed_is_printed_as_text(form: FormToSign, text_of: TextOf) -> None:
    odd = "<b>&amp;</b>"
    text = text_of(printed_form_pdf(replace(form, signer=odd, interview=odd, place=odd, wording_title=odd)))
    assert text.count(odd) >= 4
