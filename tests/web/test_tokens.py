"""The colours of tokens.css against WCAG 2.2: contrast (minimum) 1.4.3, non-text contrast 1.4.11."""

import re
from pathlib import Path

import pytest

CSS = Path(__file__).resolve().parents[2] / "static" / "css"
TOKENS = (CSS / "tokens.css").read_text()

TEXT = ["ink", "ink-soft", "river", "river-hover", "moss", "ochre", "brick"]
GROUNDS = ["paper", "sheet"]
WASHES = {
    "river-wash": ["ink", "river"],
    "moss-wash": ["ink", "moss"],
    "ochre-wash": ["ink", "ochre"],
    "brick-wash": ["ink", "brick", "river"],
}
FILLED = [("on-river", "river"), ("on-river", "river-hover"), ("on-brick", "brick")]
EDGES = ["edge", "river", "moss", "ochre", "brick", "wave", "wave-played"]


def colours(theme: str) -> dict[str, str]:
    light, _, rest = TOKENS.partition("@media (prefers-color-scheme: dark)")
    dark, _, _ = rest.partition("@media (pointer")
    found = dict(re.findall(r"--([a-z-]+):\s*(#[0-9a-f]{6});", light))
    assert len(found) > 15
    if theme == "dark":
        redefined = dict(re.findall(r"--([a-z-]+):\s*(#[0-9a-f]{6});", dark))
        assert set(redefined) == set(found), "a colour is missing from the dark theme"
        return redefined
    return found


def relative_luminance(colour: str) -> float:
    """WCAG 2.2, section 6 (definitions), "relative luminance" for sRGB."""
    channels = [int(colour[start : start + 2], 16) / 255 for start in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """WCAG 2.2, section 6 (definitions), "contrast ratio"."""
    lighter, darker = sorted((relative_luminance(one), relative_luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def test_the_formula_gives_the_ratios_that_the_standard_names() -> None:
    # WCAG 2.2, "contrast ratio": from 1:1 to 21:1.
    # #767676 as the lightest grey that passes on white: common practice, no source.
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#123456", "#123456") == 1
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("ground", GROUNDS)
@pytest.mark.parametrize("text", TEXT)
def test_text_is_readable_on_each_ground(theme: str, ground: str, text: str) -> None:
    palette = colours(theme)
    assert contrast(palette[text], palette[ground]) >= 4.5  # WCAG 2.2, 1.4.3 (AA)


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize(("wash", "text"), [(wash, text) for wash, texts in WASHES.items() for text in texts])
def test_text_is_readable_on_each_wash(theme: str, wash: str, text: str) -> None:
    palette = colours(theme)
    assert contrast(palette[text], palette[wash]) >= 4.5  # WCAG 2.2, 1.4.3 (AA)


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize(("text", "ground"), FILLED)
def test_text_is_readable_on_filled_buttons(theme: str, text: str, ground: str) -> None:
    palette = colours(theme)
    assert contrast(palette[text], palette[ground]) >= 4.5  # WCAG 2.2, 1.4.3 (AA)


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("ground", GROUNDS)
@pytest.mark.parametrize("edge", EDGES)
def test_edges_and_waveforms_stand_out_from_each_ground(theme: str, ground: str, edge: str) -> None:
    palette = colours(theme)
    assert contrast(palette[edge], palette[ground]) >= 3  # WCAG 2.2, 1.4.11 (AA)


def test_colours_are_chosen_in_one_file_only() -> None:
    allowed = {"#ffffff"}  # the white behind the drawn signature and the picture for a phone's camera, in both themes
    for sheet in CSS.glob("*.css"):
        if sheet.name != "tokens.css":
            assert set(re.findall(r"#[0-9a-f]{3,8}\b", sheet.read_text())) <= allowed, sheet.name


def test_every_token_that_is_used_exists() -> None:
    defined = set(re.findall(r"(--[a-z0-9-]+):", TOKENS))
    for sheet in CSS.glob("*.css"):
        assert set(re.findall(r"var\((--[a-z0-9-]+)\)", sheet.read_text())) <= defined, sheet.name
