"""The arrival receipt says what arrived, literally, and that nothing is accepted yet."""

import hashlib
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime
from io import BytesIO

import pytest
from pypdf import PdfReader

from intake.outputs.paper import ArrivalReceipt, ArrivedFile, Library, arrival_pdf

TextOf = Callable[[bytes], str]
PagesOf = Callable[[bytes], list[str]]
AT = datetime(2026, 11, 25, 14, 5, tzinfo=UTC)


def a_file(number: int, name: str = "") -> ArrivedFile:
    digest = hashlib.sha256(str(number).encode()).hexdigest()
    return ArrivedFile(f"Part {number}", name or f"TOLL{number:04d}.WAV", 259_200_044, digest, AT)


@pytest.fixture
def arrival() -> ArrivalReceipt:
    return ArrivalReceipt(
        number="A-7K2M-9QXD",
        replaces="",
        check_url="https://history.alderferry.example.org/check/A-7K2M-9QXD/",
        library=Library("Alder Ferry Public Library", "Local History Room", "history@alderferry.example.org"),
        handed_in_at=AT,
        handed_in_by="Tobias Wrenfield",
        given_by="Tobias Wrenfield",
        title="Interview with Marit Oskarsen, 3 Oct 2026",
        collection="Both Banks: the crossing years",
        narrators=("Marit Oskarsen",),
        recorded_on=date(2026, 10, 3),
        place="The kitchen of the old toll house",
        files=(a_file(1), a_file(2)),
        may_be_cleared=True,
        still_open=("The release of Marit Oskarsen (narrator) is not signed.",),
    )


def test_it_says_every_fact(arrival: ArrivalReceipt, text_of: TextOf) -> None:
    text = text_of(arrival_pdf(arrival))
    for fact in (
        "Arrival receipt",
        "Arrived on 25 Nov 2026, not yet accepted.",
        "It does not say that the library has accepted the interview",
        "A-7K2M-9QXD",
        "Alder Ferry Public Library",
        "Interview with Marit Oskarsen, 3 Oct 2026",
        "Both Banks: the crossing years",
        "The kitchen of the old toll house",
        "Tobias Wrenfield",
        "25 Nov 2026, 14:05 (UTC)",
        "Part 1",
        "TOLL0001.WAV",
        "259.2 MB",
        "259,200,044 bytes",
        "2 files in all",
        "518,400,088 bytes",
        "You may clear these files from the recorder's card",
        "The release of Marit Oskarsen (narrator) is not signed.",
        "What happens next",
        "Arrival receipt (not an acceptance) A-7K2M-9QXD",
    ):
        assert fact in text, fact
    assert "Replaces" not in text
    unspaced = "".join(text.split())
    assert all(file.sha256 in unspaced for file in arrival.files)
    assert arrival.check_url in unspaced


def test_one_file_fits_on_one_page(arrival: ArrivalReceipt, pages_of: PagesOf) -> None:
    assert len(pages_of(arrival_pdf(replace(arrival, files=(a_file(1),), replaces="A-2222-3333")))) == 1


def test_the_card_is_kept_until_every_file_was_looked_at(arrival: ArrivalReceipt, text_of: TextOf) -> None:
    text = text_of(arrival_pdf(replace(arrival, may_be_cleared=False)))
    assert "Keep the recorder's card as it is" in text
    assert "You may clear" not in text


def test_an_earlier_one_is_named(arrival: ArrivalReceipt, text_of: TextOf) -> None:
    assert "Replaces Arrival receipt A-2222-3333" in text_of(arrival_pdf(replace(arrival, replaces="A-2222-3333")))


def test_nothing_open_is_said_in_words(arrival: ArrivalReceipt, text_of: TextOf) -> None:
    assert "who has to sign had signed" in text_of(arrival_pdf(replace(arrival, still_open=())))


def test_many_files_flow_over_pages_and_no_row_is_torn(arrival: ArrivalReceipt, pages_of: PagesOf) -> None:
    files = tuple(a_file(number, "W" * 240 + ".WAV" if number == 7 else "") for number in range(1, 31))
    pages = pages_of(arrival_pdf(replace(arrival, files=files)))
    assert len(pages) >= 2
    for number, text in enumerate(pages, start=1):
        assert f"Page {number} of {len(pages)}" in text
        assert "not an acceptance" in text
    unspaced = ["".join(text.split()) for text in pages]
    for file in files:
        assert any(file.sha256 in text and file.name in text for text in unspaced), file.label
    assert any("30filesinall" in text and files[-1].sha256 in text for text in unspaced)


@pytest.mark.parametrize("count", range(2, 12))
def test_the_total_never_stands_alone_on_a_page(arrival: ArrivalReceipt, pages_of: PagesOf, count: int) -> None:
    files = tuple(a_file(number) for number in range(1, count + 1))
    pages = ["".join(text.split()) for text in pages_of(arrival_pdf(replace(arrival, files=files)))]
    (total,) = [text for text in pages if f"{count}filesinall" in text]
    assert files[-1].sha256 in total


def test_odd_names_are_printed_literally_or_said_to_stand_on_the_web_page(
    arrival: ArrivalReceipt, text_of: TextOf
) -> None:
    names = ("<b>&amp;.WAV", "陳美 01.WAV", "O'Neil \u202eVAW.EXE")
    files = tuple(a_file(number, name) for number, name in enumerate(names, start=1))
    text = text_of(arrival_pdf(replace(arrival, files=files, title="</para><i>")))
    assert "<b>&amp;.WAV" in text
    assert "</para><i>" in text
    assert "陳" not in text
    assert "This name is shown in full on the web page of this paper." in text
    assert "\u202e" not in text


def test_the_same_data_give_the_same_bytes(arrival: ArrivalReceipt) -> None:
    assert arrival_pdf(arrival) == arrival_pdf(arrival)
    assert arrival_pdf(arrival) != arrival_pdf(replace(arrival, place="Elsewhere"))


def test_the_file_names_itself(arrival: ArrivalReceipt) -> None:
    facts = PdfReader(BytesIO(arrival_pdf(arrival))).metadata
    assert facts is not None
    assert facts.title == "Arrival receipt A-7K2M-9QXD: Interview with Marit Oskarsen, 3 Oct 2026"


def test_a_time_without_zone_or_a_cut_digest_is_refused(arrival: ArrivalReceipt) -> None:
    with pytest.raises(ValueError, match="time zone"):
        arrival_pdf(replace(arrival, handed_in_at=datetime(2026, 11, 25, 14, 5)))  # noqa: DTZ001
    with pytest.raises(ValueError, match="64 hexadecimal"):
        arrival_pdf(replace(arrival, files=(replace(a_file(1), sha256="ab12"),)))
