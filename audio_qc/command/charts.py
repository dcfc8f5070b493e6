"""Chooses what of a report is drawn."""

from collections.abc import Iterator

from audio_qc import drawing
from audio_qc.drawing import Line
from audio_qc.facts.sound import Loudness, Spectrum
from audio_qc.finding import LOOK_CLOSER, PROBLEM
from audio_qc.measure import Report
from audio_qc.measurement import Measurement

MOST_STRETCHES = 200
CURVE_PER_SECOND = 10


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
    if facts.loudness.curve.momentary_lufs:
        yield "Loudness over time", _loudness(f"{name}-loudness", facts.loudness, facts.format.seconds)
    yield from _levels(facts, name)


def _loudness(name: str, loudness: Loudness, seconds: float) -> str:
    curve = loudness.curve
    momentary = _series("momentary, 0.4 s", curve.first_momentary_s, curve.momentary_lufs)
    short_term = _series("short-term, 3 s", curve.first_short_term_s, curve.short_term_lufs)
    return drawing.loudness_curve(name, momentary, short_term, seconds, loudness.integrated_lufs)


def _series(label: str, first_s: float, values: tuple[float | None, ...]) -> Line:
    return Line(label, [first_s + number / CURVE_PER_SECOND for number in range(len(values))], values)


def _levels(facts: Measurement, name: str) -> Iterator[tuple[str, str]]:
    histogram = facts.level_histogram
    if any(histogram.share_percent):
        drawn = drawing.level_histogram(f"{name}-levels", histogram.lowest_dbfs, histogram.share_percent)
        yield "How often each level occurs", drawn
    if lines := _spectra(facts.spectrum):
        yield "Spectrum", drawing.spectrum(f"{name}-spectrum", lines, "dBFS")


def _spectra(spectrum: Spectrum) -> list[Line]:
    both = (("sound", spectrum.sound_dbfs), ("pauses", spectrum.pauses_dbfs))
    return [Line(label, spectrum.bands_hz, levels) for label, levels in both if levels]
