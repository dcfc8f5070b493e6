"""Which letters the papers draw, and what stands where they cannot."""

from pathlib import Path

import pytest
from PIL import ImageFont

from intake.outputs.paper import FontsMissingError, fonts, register_fonts, undrawable


@pytest.mark.parametrize(
    "name",
    [
        "Marit Oskarsen",
        "Nguyễn Thị Ánh",
        "Ọlásúnkànmí Adébáyọ̀",
        "Ελένη Παπαδοπούλου",
        "Юлия Щербакова",
        "გიორგი",
        "Հայկ",
        "ᓄᓇᕗᑦ",
        "k̓ʷłəm",
        "",
    ],
)
def test_these_names_are_drawn_whole(name: str) -> None:
    assert undrawable(name) == ""
    assert "This name" not in fonts.printable(name)


@pytest.mark.parametrize(
    ("name", "missing"),
    [
        ("陳美 Mei Chen", "陳美"),
        ("محمد", "محد"),
        ("מרים", "מרים"),
        ("ދިވެހި", "ދިވެހ"),
        ("ߒߞߏ", "ߒߞߏ"),
        ("अनीता", "अनीता"),
        ("陳陳", "陳"),
    ],
)
def test_what_cannot_be_drawn_is_named_once_each_in_order(name: str, missing: str) -> None:
    assert undrawable(name) == missing


def test_a_right_to_left_letter_counts_as_missing_although_the_font_has_it() -> None:
    face = ImageFont.truetype(str(fonts.FONT_FOLDER / "DejaVuSans.ttf"), 20)
    # Control, by another font reader (FreeType): the glyph is there and is not the empty box.
    assert bytes(face.getmask("ש")) != bytes(face.getmask("\uffff"))
    assert undrawable("ש") == "ש"


def test_a_decomposed_letter_is_drawn_as_the_composed_one() -> None:
    assert undrawable("Jose\u0301") == ""
    assert fonts.gapped("Jose\u0301") == "José"


def test_the_gap_and_the_sentence_stand_where_letters_are_missing() -> None:
    markup = fonts.printable("陳美 Mei Chen")
    assert markup.startswith("[…] Mei Chen ")
    assert "This name is shown in full on the web page of this paper." in markup


def test_a_name_with_no_drawable_letter_is_the_sentence_alone() -> None:
    assert fonts.gapped("陳, 美") == ""
    assert "[…]" not in fonts.printable("陳, 美")


def test_markup_in_a_name_stays_text() -> None:
    assert fonts.printable("<b>A & B</b>") == "&lt;b&gt;A &amp; B&lt;/b&gt;"


def test_invisible_direction_and_control_characters_are_left_out() -> None:
    assert fonts.cleaned("A\u202eB\x00C\ufeff\u200b\ud800D") == "ABCD"
    assert fonts.cleaned("  A\t\u00a0\n B ") == "A B"


def test_letters_that_a_face_lacks_are_handed_to_dejavu_sans() -> None:
    assert fonts.escaped("ᓄA", fonts.SERIF) == f'<font name="{fonts.SANS}">ᓄ</font>A'


def test_a_missing_font_folder_is_a_clear_error(tmp_path: Path) -> None:
    with pytest.raises(FontsMissingError, match=r"DejaVuSans\.ttf .* `npm ci`"):
        register_fonts(tmp_path)
