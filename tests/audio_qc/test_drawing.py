"""Pictures are whole SVG, say in words what they show, and put every value where it belongs."""

import math
import re
from pathlib import Path
from xml.etree import ElementTree

import pytest

from audio_qc import drawing
from audio_qc.drawing import Axis, Line
from audio_qc.facts.faults import Span
from audio_qc.facts.file import Mark

SVG = "{http://www.w3.org/2000/svg}"
TENTHS = [number / 10 for number in range(6000)]
MOMENTARY = Line("momentary", TENTHS, [-30.0 + x % 7 for x in TENTHS])
SHORT_TERM = Line("short-term", TENTHS, [-27.0] * 6000)
SOUND, PAUSES = Line("sound", [31.5, 1000, 16_000], [-40, -20, -60]), Line("pauses", [20, 20_000], [-70, -90])
PICTURES = {
    "waveform": drawing.waveform("w", [[-20, 30] * 4000, [-5, 5] * 4000], 480, 48_000, 40.0),
    "loudness": drawing.loudness_curve("l", MOMENTARY, SHORT_TERM, 600, -26.5),
    "histogram": drawing.level_histogram("h", -60, [0.0, 10.0, 40.0, 0.0, 50.0]),
    "spectrum": drawing.spectrum("s", [SOUND, PAUSES]),
}


@pytest.mark.parametrize("name", PICTURES)
def test_a_picture_is_whole_and_says_what_it_shows(name: str) -> None:
    root = ElementTree.fromstring(PICTURES[name])
    assert root.get("role") == "img"
    named = {element.get("id"): element.text for element in root.iter() if element.tag in (SVG + "title", SVG + "desc")}
    assert [bool(named[one]) for one in (root.get("aria-labelledby") or "").split()] == [True, True]
    assert not [element for element in root.iter() if element.tag == SVG + "script" or element.get("href")]


@pytest.mark.parametrize("name", PICTURES)
def test_a_picture_has_units_on_its_axes_and_numbers_that_exist(name: str) -> None:
    units = {"waveform": "min:s", "loudness": "LUFS", "histogram": "dBFS", "spectrum": "Hz"}
    words = " ".join(ElementTree.fromstring(PICTURES[name]).itertext())
    assert units[name] in words
    assert not re.search(r"nan|inf\b|None", PICTURES[name])


@pytest.mark.parametrize("name", PICTURES)
def test_a_picture_stays_small_whatever_the_length(name: str) -> None:
    assert len(PICTURES[name]) < 40_000


def test_an_axis_puts_values_where_they_belong() -> None:
    level, hz = Axis(-60.0, 0.0, 160.0, 20.0), Axis(20.0, 20_000.0, 0.0, 300.0, logarithmic=True)
    assert [level.at(value) for value in (-60, -30, 0, 12)] == [160.0, 90.0, 20.0, 20.0]
    assert [hz.at(value) for value in (20, 200, 2000, 20_000)] == [0.0, 100.0, 200.0, 300.0]


def test_the_outline_keeps_the_extremes_of_bins_that_share_a_column() -> None:
    quiet = [-1, 1] * 4000
    quiet[2 * 2000 + 1] = 127  # the highest sample of bin 2000, half way
    path = re.search(r'class="area"[^>]* d="M([^"]*)z"', drawing.waveform("w", [quiet], 480, 48_000, 40.0))
    assert path is not None
    points = [tuple(map(float, point.split())) for point in path.group(1).split("L")]
    x, y = min(points, key=lambda point: point[1])
    assert x == pytest.approx((drawing.LEFT_PX + drawing.RIGHT_PX) / 2, abs=1.5)
    assert y == drawing.TOP_PX + 3


def test_a_stretch_is_hatched_in_its_channel_and_a_mark_stands_on_top() -> None:
    svg = drawing.waveform(
        "w",
        [[0, 0] * 10, [0, 0] * 10],
        4800,
        48_000,
        1.0,
        [Span(0.5, 0.75, 24_000, 36_000, 1)],
        [Mark(0.25, 12_000, "")],
    )
    root = ElementTree.fromstring(svg)
    stretch = next(one for one in root.iter(SVG + "rect") if one.get("class") == "stretch")
    width = drawing.RIGHT_PX - drawing.LEFT_PX
    assert float(stretch.get("x", "0")) == pytest.approx(drawing.LEFT_PX + width / 2)
    assert float(stretch.get("width", "0")) == pytest.approx(width / 4, abs=0.1)
    assert float(stretch.get("y", "0")) == (drawing.TOP_PX + drawing.BOTTOM_PX) / 2
    assert stretch.get("fill") == "url(#w-hatch)"
    assert len([one for one in root.iter(SVG + "path") if one.get("class") == "mark"]) == 1


def test_what_has_no_value_breaks_the_line() -> None:
    line = Line("short-term", [0.0, 1.0, 2.0, 3.0], [-20.0, None, -30.0, -25.0])
    svg = drawing.loudness_curve("l", Line("momentary", [], []), line, 4.0)
    path = re.search(r'<path class="first" d="(M[^"]*)"/><path', svg) or re.search(
        r'<path class="first" d="(M[^"]*L[^"]*)"', svg
    )
    assert path is not None
    assert [path.group(1).count(sign) for sign in "ML"] == [2, 1]


def test_nothing_to_draw_is_still_a_picture() -> None:
    for svg in (
        drawing.loudness_curve("l", Line("momentary", [], []), Line("short-term", [], []), 0.05),
        drawing.level_histogram("h", -100, [0.0]),
        drawing.waveform("w", [[0, 0]], 1, 8_000, 0.000125),
    ):
        assert ElementTree.fromstring(svg).tag == SVG + "svg"


def test_a_picture_of_its_own_carries_its_colours() -> None:
    root = ElementTree.fromstring(drawing.picture(PICTURES["spectrum"]))
    style = next(one.text for one in root.iter(SVG + "style"))
    assert style is not None
    assert "prefers-color-scheme:dark" in style


def luminance(colour: str) -> float:
    """Return the relative luminance as WCAG 2.2 defines it."""
    digits = colour[1:] if len(colour) == 7 else "".join(sign * 2 for sign in colour[1:])
    parts = [int(digits[place : place + 2], 16) / 255 for place in (0, 2, 4)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


@pytest.mark.parametrize("colours", [drawing.LIGHT, drawing.DARK])
def test_text_and_lines_stand_out_from_the_ground_in_light_and_dark(colours: str) -> None:
    """WCAG 2.2: 4.5:1 for text (1.4.3), 3:1 for lines that carry meaning (1.4.11)."""
    named = dict(one.split(":") for one in colours.split(";"))
    least = {"--aq-ink": 4.5, "--aq-quiet": 4.5, "--aq-first": 3.0, "--aq-second": 3.0, "--aq-stretch": 3.0}
    ground = luminance(named["--aq-ground"])
    for name, ratio in least.items():
        light, dark = sorted((luminance(named[name]), ground), reverse=True)
        assert (light + 0.05) / (dark + 0.05) >= ratio, name
    assert math.isclose(luminance("#ffffff"), 1.0)


def test_the_style_is_part_of_the_page_that_the_command_writes() -> None:
    css = Path(drawing.__file__).parent / "command" / "page.css"
    used = set(re.findall(r"var\((--aq-[a-z]+)\)", css.read_text(encoding="utf-8") + drawing.STYLE))
    assert used <= set(re.findall(r"(--aq-[a-z]+):", drawing.STYLE))
