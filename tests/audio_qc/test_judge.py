"""Findings on the sound, for facts on both sides of every limit."""

from dataclasses import replace

import pytest

from audio_qc import SPOKEN_INTERVIEW, Measurement, judge
from audio_qc.facts.faults import (
    Rumble,
    Span,
)
from audio_qc.finding import GOOD, LOOK_CLOSER, NOT_MEASURED, NOTE, PROBLEM
from audio_qc.verdict import verdict
from tests.audio_qc.changed import (
    found,
    one,
    with_band,
    with_bits,
    with_bursts,
    with_clipping,
    with_distance,
    with_dropouts,
    with_flat_tops,
    with_hum,
    with_long_silence,
    with_peak,
    with_voice,
    without_pauses,
)

MEASURES = [
    "clipping", "flat_tops", "dropouts", "true_peak", "speech_level", "speech_to_noise", "noise_floor", "hum", "rumble",
    "channels", "digital_silence", "long_silence", "loudness_integrated", "loudness_short_term_max",
    "loudness_momentary_max", "loudness_range", "dc_offset", "bandwidth", "format", "resolution", "structure", "marks",
]  # fmt: skip


def test_a_good_recording_is_good_in_every_measure(good: Measurement) -> None:
    findings = judge(good, SPOKEN_INTERVIEW)
    assert [finding.measure for finding in findings] == MEASURES
    assert {finding.standing for finding in findings} == {GOOD}


PEAKS = [
    (None, "silent-recording", PROBLEM),
    (-50.1, "peaks-inaudible", PROBLEM),
    (-24.1, "peaks-too-low", LOOK_CLOSER),
    (-12.1, "peaks-low", NOTE),
    (-12.0, "peaks-good", GOOD),
    (-6.0, "peaks-good", GOOD),
    (-5.9, "peaks-high", NOTE),
    (-1.0, "peaks-high", NOTE),
    (-0.9, "peaks-too-high", LOOK_CLOSER),
    (2.0, "peaks-too-high", LOOK_CLOSER),
]


@pytest.mark.parametrize(("dbtp", "code", "standing"), PEAKS)
def test_peaks(good: Measurement, dbtp: float | None, code: str, standing: str) -> None:
    assert one(with_peak(good, dbtp), "true_peak") == (code, standing)


CLIPPINGS = [
    (0, 0.0, 0.0, "clipped-none", GOOD),
    (1, 0.0001, 0.0002, "clipped", LOOK_CLOSER),
    (3, 0.01, 0.010, "clipped", LOOK_CLOSER),
    (3, 0.0101, 0.0002, "clipped-badly", PROBLEM),
    (1, 0.0001, 0.0101, "clipped-badly", PROBLEM),
]


@pytest.mark.parametrize(("moments", "share", "longest_s", "code", "standing"), CLIPPINGS)
def test_clipping(good: Measurement, moments: int, share: float, longest_s: float, code: str, standing: str) -> None:
    (finding,) = found(with_clipping(good, moments, share, longest_s), "clipping")
    assert (finding.code, finding.standing, finding.value) == (code, standing, float(moments))
    assert len(finding.spans) == moments
    assert finding.channel == (0 if moments else None)


@pytest.mark.parametrize(("moments", "share", "longest_s", "code", "standing"), CLIPPINGS)
def test_flat_tops_are_held_against_the_limits_of_clipping(
    good: Measurement, moments: int, share: float, longest_s: float, code: str, standing: str
) -> None:
    (finding,) = found(with_flat_tops(good, moments, share, longest_s), "flat_tops")
    assert (finding.code, finding.standing) == (code.replace("clipped", "flat-tops"), standing)
    assert (finding.value, len(finding.spans)) == (float(moments), moments)
    assert finding.channel == (1 if moments else None)
    assert ("-6.00 dBFS" in finding.archivist) == (moments > 0)


def test_any_dropout_is_a_problem(good: Measurement) -> None:
    assert one(with_dropouts(good), "dropouts") == ("dropouts-none", GOOD)
    (finding,) = found(with_dropouts(good, Span(1.0, 1.003, 48_000, 48_144, 0)), "dropouts")
    assert (finding.code, finding.standing, finding.value, finding.channel) == ("dropout", PROBLEM, 1.0, 0)
    assert "at 0:01" in finding.volunteer
    assert "3 ms" in finding.archivist
    assert verdict([finding])[1] == "Needs attention: sound missing in 1 place."


RESOLUTIONS = [
    (24, 24, "bits-used", GOOD),
    (24, 32, "bits-used", GOOD),
    (31, 32, "bits-used", GOOD),
    (16, 16, "bits-used", GOOD),
    (8, 8, "bits-used", GOOD),
    (16, 24, "bits-padded", NOTE),
    (16, 32, "bits-padded", NOTE),
    (20, 32, "bits-padded", NOTE),
    (14, 16, "bits-padded", LOOK_CLOSER),
    (None, 32, "resolution-not-measured", NOT_MEASURED),
]


@pytest.mark.parametrize(("used", "bits", "code", "standing"), RESOLUTIONS)
def test_resolution(good: Measurement, used: int | None, bits: int, code: str, standing: str) -> None:
    assert one(with_bits(good, used, bits), "resolution") == (code, standing)


VOICES = [
    (None, False, "speech-level-not-measured", NOT_MEASURED),
    (-25.0, False, "speech-level-not-measured", NOT_MEASURED),
    (-46.1, True, "speech-faint", PROBLEM),
    (-36.1, True, "speech-quiet", LOOK_CLOSER),
    (-36.0, True, "speech-level-good", GOOD),
    (-18.0, True, "speech-level-good", GOOD),
    (-17.9, True, "speech-loud", LOOK_CLOSER),
]


@pytest.mark.parametrize(("level", "reliable", "code", "standing"), VOICES)
def test_level_of_the_voice(good: Measurement, level: float | None, reliable: bool, code: str, standing: str) -> None:
    assert one(with_voice(good, level, reliable), "speech_level") == (code, standing)


DISTANCES = [
    (None, "speech-to-noise-not-measured", NOT_MEASURED),
    (14.9, "background-loud", PROBLEM),
    (15.0, "background-near", LOOK_CLOSER),
    (20.0, "voice-clear", GOOD),
    (30.0, "voice-very-clear", GOOD),
]


@pytest.mark.parametrize(("distance", "code", "standing"), DISTANCES)
def test_voice_above_background(good: Measurement, distance: float | None, code: str, standing: str) -> None:
    """W3C WCAG 1.4.7: background sounds at least 20 decibels below the speech."""
    assert one(with_distance(good, distance), "speech_to_noise") == (code, standing)


def test_the_background_is_described_or_its_absence_explained(good: Measurement) -> None:
    assert one(good, "noise_floor") == ("noise-described", GOOD)
    assert one(without_pauses(good), "noise_floor") == ("noise-not-measured", NOT_MEASURED)


def test_a_recorder_left_running_is_noted_with_its_place(good: Measurement) -> None:
    assert one(with_long_silence(good, 0.0), "long_silence") == ("long-silence-none", GOOD)
    assert one(with_long_silence(good, 0.0, "No pauses."), "long_silence")[1] == NOT_MEASURED
    (finding,) = found(with_long_silence(good, 300.0), "long_silence")
    assert (finding.code, finding.standing, finding.value) == ("long-silence", NOTE, 300.0)
    assert "at 0:05" in finding.volunteer
    assert "5 minutes" in finding.volunteer


HUMS = [
    (None, -60.0, "hum-not-measured", NOT_MEASURED),
    (3.0, -60.0, "hum-none", GOOD),
    (15.0, -60.0, "hum-none", GOOD),
    (15.1, -60.0, "hum", LOOK_CLOSER),
    (15.1, -73.0, "hum", LOOK_CLOSER),
    (35.0, -73.1, "hum-faint", NOTE),
]


@pytest.mark.parametrize(("prominence_db", "level_dba", "code", "standing"), HUMS)
def test_hum(good: Measurement, prominence_db: float | None, level_dba: float, code: str, standing: str) -> None:
    assert one(with_hum(good, prominence_db, level_dba), "hum") == (code, standing)


def test_hum_in_a_recording_without_loudness_counts_as_heard(good: Measurement) -> None:
    silent = replace(good.loudness, integrated_lufs=None, integrated_reason="Nothing is loud enough.")
    assert one(replace(with_hum(good, 30.0, -90.0), loudness=silent), "hum") == ("hum", LOOK_CLOSER)


RUMBLES = [
    ((), 1.0, "rumble-none", GOOD),
    ((-6.0, -9.0), 5.0, "rumble-none", GOOD),
    ((-5.9, -9.0), 1.0, "rumble-thumps", NOTE),
    ((3.0,), 3.0, "rumble-thumps", NOTE),
    ((3.0, -2.0, 1.0, 4.0), 1.0, "rumble", LOOK_CLOSER),
    ((-5.9,), 3.1, "rumble", LOOK_CLOSER),
]


@pytest.mark.parametrize(("over_voice_db", "seconds", "code", "standing"), RUMBLES)
def test_rumble(good: Measurement, over_voice_db: tuple[float, ...], seconds: float, code: str, standing: str) -> None:
    (finding,) = found(with_bursts(good, *over_voice_db, seconds=seconds), "rumble")
    assert (finding.code, finding.standing) == (code, standing)
    assert len(finding.spans) == sum(over > -6.0 for over in over_voice_db)


def test_rumble_that_could_not_be_measured_is_said(good: Measurement) -> None:
    measurement = replace(good, rumble=Rumble((), None, None, "Less than two seconds of sound."))
    assert one(measurement, "rumble") == ("rumble-not-measured", NOT_MEASURED)


BANDS = [
    (None, "", "band-full", GOOD),
    (15_900.0, "", "band-limited", LOOK_CLOSER),
    (19_999.0, "", "band-limited", LOOK_CLOSER),
    (20_000.0, "", "band-inaudibly-limited", NOTE),
    (None, "The sample rate is too low.", "band-not-measured", NOT_MEASURED),
]


@pytest.mark.parametrize(("edge_hz", "reason", "code", "standing"), BANDS)
def test_bandwidth(good: Measurement, edge_hz: float | None, reason: str, code: str, standing: str) -> None:
    assert one(with_band(good, edge_hz, reason), "bandwidth") == (code, standing)


def test_the_band_of_a_compressed_file_is_no_finding(good: Measurement) -> None:
    coded = replace(good, format=replace(good.format, container="MP3", subtype="MPEG_LAYER_III", bits_per_sample=None))
    assert one(with_band(coded, 15_900.0, ""), "bandwidth") == ("band-of-compression", GOOD)
