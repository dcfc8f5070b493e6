"""docs/measurements.md names every measure and limit as they are now, and its pictures are what is drawn now."""

import re
from dataclasses import fields
from pathlib import Path
from urllib.parse import unquote
from xml.etree import ElementTree

import pytest

from audio_qc import SPOKEN_INTERVIEW, Finding, report
from audio_qc.meters import bandwidth, clipping, dropouts, hum, loudness, noise, resolution, rumble, speech
from audio_qc.meters.stretches import UNITS_PER_SECOND
from audio_qc.profile import Limit
from audio_qc.rules.formats import STRUCTURE
from tests.audio_qc import picture_sounds as sounds
from tests.audio_qc.pictures import FOLDER, PICTURES, Picture, drawn
from tests.signals import write

DOCS = Path(__file__).parents[2] / "docs"
PAGE = (DOCS / "measurements.md").read_text(encoding="utf-8")
ROWS = {row.split("|")[2].strip(): row for row in PAGE.splitlines() if re.match(r"\| \[.*\]\(#.*\) \|", row)}
LIMITS = [field.name for field in fields(SPOKEN_INTERVIEW) if isinstance(getattr(SPOKEN_INTERVIEW, field.name), Limit)]
NUMBER = re.compile(r"-?\d+(?:\.\d+)?")
TOLERANCE_PX = 0.3  # rounding on another processor; what is drawn has one decimal


@pytest.fixture(scope="module")
def findings(tmp_path_factory: pytest.TempPathFactory) -> tuple[Finding, ...]:
    return report(write(tmp_path_factory.mktemp("page") / "good.wav", sounds.good())).findings


def test_every_measure_has_its_row_with_its_title_and_no_row_is_of_another(findings: tuple[Finding, ...]) -> None:
    assert ROWS.keys() == {f"`{finding.measure}`" for finding in findings}
    for finding in findings:
        row = ROWS[f"`{finding.measure}`"]
        assert finding.title in row or finding.measure == "marks", row
        assert finding.unit.split(" ")[0].rstrip("s") in row, row


@pytest.mark.parametrize("name", LIMITS)
def test_every_limit_stands_in_its_section_and_in_the_table_with_its_value(name: str) -> None:
    limit = getattr(SPOKEN_INTERVIEW, name)
    words = " ".join(PAGE.split())
    assert f"`{name}` {limit.value:g} {limit.unit}" in words
    in_the_table = [NUMBER.findall(row.split("|")[5]) for row in ROWS.values()]
    assert any(f"{limit.value:g}" in numbers for numbers in in_the_table)


# What the sections say of how it is measured, written from the constants that do it.
FIGURES = [
    ("Clipping", f"{100 * clipping.RAIL:g} % of full scale"),
    ("Clipping", f"{clipping.MOMENT_S} s"),
    ("Squashed peaks", f"{clipping.WINDOWS_DB[0]} or {clipping.WINDOWS_DB[1]} dB"),
    ("Dropouts", f"{dropouts.LONGEST_GAP_S} s long"),
    ("Dropouts", f"from {1000 * dropouts.LEAST_FADED_S:g} ms on"),
    ("Dropouts", f"-46 dBFS within {1000 * dropouts.WIDE_UNITS / UNITS_PER_SECOND:g} ms"),
    ("Dropouts", f"within {1000 * dropouts.JUMP_UNITS / UNITS_PER_SECOND:g} ms on both sides"),
    ("Level of the voice", f"{speech.MARGIN_DB} dB"),
    ("Level of the voice", f"{speech.MOST_ACTIVITY_PERCENT} %"),
    ("Voice above background", f"within {noise.VOICE_RANGE_DB:g} dB of the loudest"),
    ("Background noise", f"within {noise.PAUSE_RANGE_DB:g} dB of the quietest tenth"),
    ("Mains hum", f"{100 * hum.LARGEST_DEVIATION:.1f} %"),
    ("Mains hum", f"{hum.LINE_DB:g} dB or more"),
    ("Rumble and wind", f"{rumble.RUMBLE_HZ[0]:g} to {rumble.RUMBLE_HZ[1]:g} Hz"),
    ("Rumble and wind", f"{rumble.VOICE_HZ[0]:g} to {rumble.VOICE_HZ[1]:g} Hz"),
    ("Rumble and wind", f"within {rumble.BURST_BELOW_VOICE_DB:g} dB of the voice"),
    ("Digital silence", f"at least {dropouts.LEAST_SILENCE_S} s"),
    ("Loudness", f"{loudness.ABSOLUTE_GATE_LUFS:g} LUFS"),
    ("Bandwidth", f"at least {bandwidth.LEAST_DROP_DB:g} dB"),
    ("Bandwidth", f"{100 * bandwidth.HIGHEST_EDGE_SHARE:g} % of half the rate"),
    ("True resolution", f"fewer than {resolution.LEAST_SAMPLES} samples"),
]


@pytest.mark.parametrize(("section", "figure"), FIGURES)
def test_a_section_says_what_the_meter_does(section: str, figure: str) -> None:
    text = " ".join(PAGE.partition(f"\n## {section}\n")[2].partition("\n## ")[0].split())
    assert figure in text


@pytest.mark.parametrize("code", [code for code, (standing, _) in STRUCTURE.items() if standing in ("problem", "note")])
def test_every_structure_note_that_is_a_problem_or_only_a_note_is_named(code: str) -> None:
    assert f"`{code}`" in PAGE


def test_every_link_and_picture_leads_somewhere() -> None:
    headings = {re.sub(r"[^\w -]", "", line.lstrip("# ")).lower().replace(" ", "-") for line in _headings()}
    targets = re.findall(r"\]\(([^)]+)\)", PAGE) + re.findall(r'src="([^"]+)"', PAGE)
    assert len(targets) > len(ROWS)
    for target in targets:
        place, _, heading = unquote(target).partition("#")
        assert not place or (DOCS / place).exists(), target
        assert not heading or heading in headings, target


def _headings() -> list[str]:
    return [line for line in PAGE.splitlines() if line.startswith("#")]


def test_every_picture_stands_on_the_page_with_its_sentence_for_the_eye_and_for_the_ear() -> None:
    assert {path.stem for path in FOLDER.glob("*.svg")} == {picture.name for picture in PICTURES}
    for picture in PICTURES:
        image = f'<img src="pictures/measures/{picture.name}.svg" width="420" alt="{picture.says}">'
        assert image in PAGE
        assert " ".join(PAGE.replace(image, "").split()).count(picture.says) >= 1, picture.name


@pytest.mark.parametrize("picture", PICTURES, ids=lambda picture: picture.name)
def test_a_picture_is_what_is_measured_and_drawn_now(picture: Picture) -> None:
    """`make pictures` draws them anew. The finding that each illustrates is asserted while it is drawn."""
    kept, now = (FOLDER / f"{picture.name}.svg").read_text(encoding="utf-8"), drawn(picture)
    assert NUMBER.sub("#", kept) == NUMBER.sub("#", now)
    assert [float(n) for n in NUMBER.findall(kept)] == pytest.approx(
        [float(n) for n in NUMBER.findall(now)], abs=TOLERANCE_PX
    )
    assert ElementTree.fromstring(kept).get("role") == "img"


def test_the_drone_and_the_hiss_have_the_levels_that_their_captions_say(tmp_path: Path) -> None:
    levels = []
    for sound in (sounds.droning(), sounds.hissing()):
        facts = report(write(tmp_path / "noise.wav", sound)).measurement.noise
        levels += [facts.noise_floor_dbfs, facts.noise_floor_dba]
    assert levels == pytest.approx([-55.0, -69.0, -55.0, -58.0], abs=0.5)
