"""Chooses what of a report is drawn."""

from collections.abc import Iterator

from audio_qc import drawing
from audio_qc.finding import LOOK_CLOSER, PROBLEM
from audio_qc.measure import Report

MOST_STRETCHES = 200


def charts(report: Report, name: str) -> Iterator[tuple[str, str]]:
    """Yield title and SVG of each picture; `name` makes the ids on the page unique."""
    facts = report.measurement
    grave = [span for one in report.findings if one.standing in (PROBLEM, LOOK_CLOSER) for span in one.spans]
    yield (
        "Waveform, findings hatched" if grave else "Waveform",
        drawing.waveform(
            f"{name}-waveform",
            facts.waveform.peaks,
            facts.waveform.frames_per_bin,
            facts.format.sample_rate_hz,
            facts.format.seconds,
            grave[:MOST_STRETCHES],
            facts.marks,
        ),
    )
