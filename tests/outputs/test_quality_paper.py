"""The quality report says every measure with its unit and every place, also for whoever cannot see the picture."""

import hashlib
import shutil
import subprocess
from dataclasses import replace
from datetime import UTC, datetime

import pytest

from intake.outputs.paper import quality_pdf
from intake.outputs.paper.quality import Heard, Place, QualityReport
from tests.needs import needs
from tests.outputs.conftest import LIBRARY


def heard(title: str, standing: str, value: str = "", **rest: object) -> Heard:
    told = {"target": "", "plain": "", "exact": "", "source": "", "places": ()}
    return Heard(title=title, standing=standing, value=value, **{**told, **rest})


@pytest.fixture
def report() -> QualityReport:
    return QualityReport(
        library=LIBRARY,
        number="2026-0042",
        title="Marit Oskarsen on forty years of the cable ferry",
        part="Part 1",
        file="TOLL0007.WAV",
        sha256=hashlib.sha256(b"one").hexdigest(),
        bytes=728_755_244,
        format="WAV, 48 kHz, 24 bit, stereo",
        seconds=2530.4,
        verdict="Clear voice, peaks a little high.",
        standing="look closer",
        unreadable="",
        heard=(
            heard("Loudness", "good", "-22.8 LUFS", target="-26 to -18 LUFS", source="EBU R 128"),
            heard(
                "Clipping",
                "look closer",
                "3 places",
                plain="Laughter was too loud for the recorder three times.",
                exact="3 runs of full-scale samples, the longest 14 samples.",
                places=(Place(62.04, 62.31), Place(1203.0, None), Place(2530.0, 2530.4)),
            ),
            heard("Hum", "not measured", "too short to tell"),
        ),
        peaks=((-20, 20, -127, 127, -3, 2), (-10, 10, -40, 40, -3, 2)),
        measured_at=datetime(2026, 11, 24, 15, 5, tzinfo=UTC),
        measured_with="audio_qc 1.4.0",
        profile="spoken interview 2",
    )


def test_the_report_says_every_measure_with_its_unit_and_every_place(report, text_of):
    text = text_of(quality_pdf(report))
    for fact in (
        "Quality report 2026-0042, Part 1",
        "Look closer: Clear voice, peaks a little high.",
        "Part 1: TOLL0007.WAV",
        "WAV, 48 kHz, 24 bit, stereo",
        "0:42:10 (h:mm:ss)",
        "728.8 MB (728,755,244 bytes)",
        "-22.8 LUFS",
        "-26 to -18 LUFS",
        "Laughter was too loud",
        "the longest 14 samples",
        "At 0:01:02.0–0:01:02.3, 0:20:03.0, 0:42:10.0–0:42:10.4",
        "left above, right below",
        "too short to tell",
        "24 Nov 2026, 15:05 (UTC)",
        "audio_qc 1.4.0, against “spoken interview 2”",
        "This report advises. People decide",
    ):
        assert fact in text, fact
    assert "Hum (not measured)" not in text  # in the table alone: nothing was heard


def test_the_same_report_gives_the_same_bytes(report):
    assert quality_pdf(report) == quality_pdf(report)


def test_a_file_that_cannot_be_read_says_so_and_shows_no_empty_table(report, text_of):
    told = "The file ends in the middle of its header."
    unreadable = replace(report, unreadable=told, verdict=told, standing="problem", heard=(), peaks=(), seconds=None)
    text = text_of(quality_pdf(unreadable))
    assert f"so nothing was measured: {told}" in text
    assert "Duration not known" in text
    assert "All measures" not in text


def test_a_hundred_places_flow_over_pages(report, pages_of):
    many = tuple(Place(second * 3.0, second * 3.0 + 1) for second in range(800))
    clipped = heard("Clipping", "problem", "800 places", plain="Too loud.", places=many)
    pages = pages_of(quality_pdf(replace(report, heard=(clipped,) * 3)))
    assert len(pages) > 2
    assert "0:39:57.0–0:39:58.0" in " ".join(pages)


def test_the_file_is_sound_to_qpdf_and_every_face_is_embedded(report, tmp_path):
    needs("qpdf", shutil.which("qpdf"))
    path = tmp_path / "report.pdf"
    path.write_bytes(quality_pdf(report))
    assert subprocess.run(["qpdf", "--check", path], capture_output=True, check=False).returncode == 0
    needs("pdffonts", shutil.which("pdffonts"))
    rows = subprocess.run(["pdffonts", path], capture_output=True, text=True, check=True).stdout.splitlines()[2:]
    assert {row.split()[-5] for row in rows} == {"yes"}
