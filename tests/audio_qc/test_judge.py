"""Findings for facts on both sides of every limit, and what every finding must say."""

from dataclasses import fields, replace
from typing import Any

import pytest

from audio_qc import SPOKEN_INTERVIEW, Finding, Measurement, judge
from audio_qc.facts.faults import (
    Bandwidth,
    ChannelClipping,
    ChannelFlatTops,
    ChannelLoss,
    Clipping,
    DigitalSilence,
    Dropouts,
    FlatTops,
    Hum,
    HumLine,
    LongSilence,
    Resolution,
    Rumble,
    RumbleBurst,
    Span,
)
from audio_qc.facts.file import Mark, StructureNote
from audio_qc.facts.sound import ChannelLevel, ChannelPair, Levels
from audio_qc.finding import GOOD, LOOK_CLOSER, NOT_MEASURED, NOTE, PROBLEM, STANDINGS
from audio_qc.profile import Limit, Profile
from audio_qc.rules.formats import STRUCTURE
from audio_qc.rules.words import clock, places
from audio_qc.verdict import verdict

MEASURES = [
    "clipping", "flat_tops", "dropouts", "true_peak", "speech_level", "speech_to_noise", "noise_floor", "hum", "rumble",
    "channels", "digital_silence", "long_silence", "loudness_integrated", "loudness_short_term_max",
    "loudness_momentary_max", "loudness_range", "dc_offset", "bandwidth", "format", "resolution", "structure", "marks",
]  # fmt: skip


def found(measurement: Measurement, measure: str) -> list[Finding]:
    return [finding for finding in judge(measurement, SPOKEN_INTERVIEW) if finding.measure == measure]


def one(measurement: Measurement, measure: str) -> tuple[str, str]:
    (finding,) = found(measurement, measure)
    return finding.code, finding.standing


def test_a_good_recording_is_good_in_every_measure(good: Measurement) -> None:
    findings = judge(good, SPOKEN_INTERVIEW)
    assert [finding.measure for finding in findings] == MEASURES
    assert {finding.standing for finding in findings} == {GOOD}


def with_peak(good: Measurement, dbtp: float | None) -> Measurement:
    at = None if dbtp is None else 4.0
    peak = replace(good.true_peak, true_peak_dbtp=dbtp, channels_dbtp=(dbtp, dbtp), at_seconds=at, reason="silent")
    return replace(good, true_peak=peak)


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


def with_clipping(good: Measurement, moments: int, share: float, longest_s: float) -> Measurement:
    spans = tuple(Span(n * 2.0, n * 2.0 + longest_s, n * 96_000, n * 96_000 + 9, 0) for n in range(moments))
    channels = (ChannelClipping(moments, 9 * moments, 9, moments, 0), ChannelClipping(0, 0, 0, 0, 0))
    return replace(good, clipping=Clipping(channels, moments, share, longest_s, spans, 0.25))


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


def with_flat_tops(good: Measurement, moments: int, share: float, longest_s: float) -> Measurement:
    spans = tuple(Span(n * 2.0, n * 2.0 + longest_s, n * 96_000, n * 96_000 + 9, 1) for n in range(moments))
    none = ChannelFlatTops(None, 0, 0, 0, 0)
    flat = ChannelFlatTops(-6.0, moments, 0, 9 * moments, 9) if moments else none
    return replace(good, flat_tops=FlatTops((none, flat), moments, share, longest_s, spans, 0.25))


@pytest.mark.parametrize(("moments", "share", "longest_s", "code", "standing"), CLIPPINGS)
def test_flat_tops_are_held_against_the_limits_of_clipping(
    good: Measurement, moments: int, share: float, longest_s: float, code: str, standing: str
) -> None:
    (finding,) = found(with_flat_tops(good, moments, share, longest_s), "flat_tops")
    assert (finding.code, finding.standing) == (code.replace("clipped", "flat-tops"), standing)
    assert (finding.value, len(finding.spans)) == (float(moments), moments)
    assert finding.channel == (1 if moments else None)
    assert ("-6.00 dBFS" in finding.archivist) == (moments > 0)


def with_dropouts(good: Measurement, *spans: Span) -> Measurement:
    longest = max((span.end_s - span.start_s for span in spans), default=0.0)
    return replace(good, dropouts=Dropouts(len(spans), len(spans), 0, 0, longest, spans, 0.01))


def test_any_dropout_is_a_problem(good: Measurement) -> None:
    assert one(with_dropouts(good), "dropouts") == ("dropouts-none", GOOD)
    (finding,) = found(with_dropouts(good, Span(1.0, 1.003, 48_000, 48_144, 0)), "dropouts")
    assert (finding.code, finding.standing, finding.value, finding.channel) == ("dropout", PROBLEM, 1.0, 0)
    assert "at 0:01" in finding.volunteer
    assert "3 ms" in finding.archivist
    assert verdict([finding])[1] == "Needs attention: sound missing in 1 place."


def with_bits(good: Measurement, used: int | None, bits: int) -> Measurement:
    facts = Resolution(used, "" if used else "The samples are coded.")
    return replace(good, resolution=facts, format=replace(good.format, bits_per_sample=bits))


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


def with_voice(good: Measurement, level: float | None, reliable: bool = True) -> Measurement:
    speech = replace(
        good.speech, active_speech_level_dbov=level, is_reliable=reliable, reason="" if reliable else "No."
    )
    return replace(good, speech=speech)


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


def with_distance(good: Measurement, distance: float | None) -> Measurement:
    reason = "No pauses." if distance is None else ""
    speech = replace(good.speech, speech_to_noise_dba=distance, speech_to_noise_reason=reason)
    return replace(good, speech=speech)


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


def without_pauses(good: Measurement) -> Measurement:
    return replace(good, noise=replace(good.noise, noise_floor_dbfs=None, noise_floor_dba=None, reason="No pauses."))


def test_the_background_is_described_or_its_absence_explained(good: Measurement) -> None:
    assert one(good, "noise_floor") == ("noise-described", GOOD)
    assert one(without_pauses(good), "noise_floor") == ("noise-not-measured", NOT_MEASURED)


def with_long_silence(good: Measurement, seconds: float, reason: str = "") -> Measurement:
    spans = (Span(5.0, 5.0 + seconds, 240_000, round((5.0 + seconds) * 48_000), None),) if seconds else ()
    return replace(good, long_silence=LongSilence(30.0, len(spans), seconds, spans, reason))


def test_a_recorder_left_running_is_noted_with_its_place(good: Measurement) -> None:
    assert one(with_long_silence(good, 0.0), "long_silence") == ("long-silence-none", GOOD)
    assert one(with_long_silence(good, 0.0, "No pauses."), "long_silence")[1] == NOT_MEASURED
    (finding,) = found(with_long_silence(good, 300.0), "long_silence")
    assert (finding.code, finding.standing, finding.value) == ("long-silence", NOTE, 300.0)
    assert "at 0:05" in finding.volunteer
    assert "5 minutes" in finding.volunteer


def channel_levels(*channels: ChannelLevel) -> Levels:
    return Levels(max(level.peak_dbfs or -200.0 for level in channels), channels)


def with_hum(good: Measurement, prominence_db: float | None, a_weighted_level_dbfs: float = -60.0) -> Measurement:
    if prominence_db is None:
        return replace(good, hum=Hum(None, None, None, None, None, (), None, "Less than 4.6 seconds of sound."))
    lines = (HumLine(100.1, prominence_db, -45.0),) if prominence_db >= 8.0 else ()
    hum = Hum(prominence_db, 50, 50.05, -45.0, a_weighted_level_dbfs, lines, 1, "")
    return replace(good, hum=hum, loudness=replace(good.loudness, integrated_lufs=-23.0))


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


def with_bursts(good: Measurement, *over_voice_db: float, seconds: float = 1.0) -> Measurement:
    spans = (Span(10.0 * n, 10.0 * n + seconds, 480_000 * n, 480_000 * n + 9, 0) for n in range(len(over_voice_db)))
    bursts = tuple(RumbleBurst(span, -25.0 + over, over, 50.0) for span, over in zip(spans, over_voice_db, strict=True))
    return replace(good, rumble=Rumble(bursts, 3.0, -25.0, ""))


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


def with_band(good: Measurement, edge_hz: float | None, reason: str) -> Measurement:
    return replace(good, bandwidth=Bandwidth(edge_hz, None if reason else 31.0, reason))


@pytest.mark.parametrize(("edge_hz", "reason", "code", "standing"), BANDS)
def test_bandwidth(good: Measurement, edge_hz: float | None, reason: str, code: str, standing: str) -> None:
    assert one(with_band(good, edge_hz, reason), "bandwidth") == (code, standing)


def test_the_band_of_a_compressed_file_is_no_finding(good: Measurement) -> None:
    coded = replace(good, format=replace(good.format, container="MP3", subtype="MPEG_LAYER_III", bits_per_sample=None))
    assert one(with_band(coded, 15_900.0, ""), "bandwidth") == ("band-of-compression", GOOD)


OFFSETS = [
    (0.5, "dc-offset-none", GOOD),
    (-0.51, "dc-offset", NOTE),
    (2.0, "dc-offset", NOTE),
    (-2.1, "dc-offset-large", LOOK_CLOSER),
]


@pytest.mark.parametrize(("percent", "code", "standing"), OFFSETS)
def test_dc_offset(good: Measurement, percent: float, code: str, standing: str) -> None:
    levels = channel_levels(good.levels.channels[0], replace(good.levels.channels[1], dc_offset_percent=percent))
    measurement = replace(good, levels=levels)
    assert one(measurement, "dc_offset") == (code, standing)
    assert found(measurement, "dc_offset")[0].channel == 1


FORMATS = [
    ({}, "format-preferred", GOOD),
    ({"sample_rate_hz": 96_000, "subtype": "FLOAT", "bits_per_sample": 32}, "format-preferred", GOOD),
    ({"sample_rate_hz": 44_100, "subtype": "PCM_16", "bits_per_sample": 16}, "format-accepted", NOTE),
    ({"subtype": "PCM_16", "bits_per_sample": 16}, "format-accepted", NOTE),
    ({"container": "FLAC"}, "format-not-wav", NOTE),
    ({"sample_rate_hz": 22_050}, "format-low", LOOK_CLOSER),
    ({"subtype": "PCM_U8", "bits_per_sample": 8}, "format-low", LOOK_CLOSER),
    ({"container": "MP3", "subtype": "MPEG_LAYER_III", "bits_per_sample": None}, "format-compressed", LOOK_CLOSER),
    ({"subtype": "ULAW", "bits_per_sample": 8}, "format-compressed", LOOK_CLOSER),
    ({"container": "M4A", "subtype": "AAC", "bits_per_sample": None}, "format-compressed", LOOK_CLOSER),
    ({"container": "M4A", "subtype": "ALAC", "bits_per_sample": 24}, "format-not-wav", NOTE),
    ({"container": "M4A", "subtype": "ALAC", "bits_per_sample": 16}, "format-accepted", NOTE),
]


@pytest.mark.parametrize(("change", "code", "standing"), FORMATS)
def test_format(good: Measurement, change: dict[str, Any], code: str, standing: str) -> None:
    assert one(replace(good, format=replace(good.format, **change)), "format") == (code, standing)


@pytest.mark.parametrize("code", sorted(STRUCTURE))
def test_every_structure_note_has_its_sentence(good: Measurement, code: str) -> None:
    (finding,) = found(replace(good, structure=(StructureNote(code, "What was seen."),)), "structure")
    assert finding.code == code
    assert finding.archivist == "What was seen."
    assert finding.standing != GOOD


def test_the_archivist_is_told_that_a_salvaged_copy_can_be_made(good: Measurement) -> None:
    notes = (StructureNote("size-not-set", "Seen."), StructureNote("trailing-bytes", "Seen."))
    findings = found(replace(good, structure=notes, salvageable=True), "structure")
    assert ["salvaged copy" in finding.archivist for finding in findings] == [True, False]


def with_silence(good: Measurement, *spans: Span) -> Measurement:
    longest = max((span.end_s - span.start_s for span in spans), default=0.0)
    return replace(good, digital_silence=DigitalSilence(0.1, len(spans), longest, (0.0, 0.0), spans, 0.1))


def test_digital_silence(good: Measurement) -> None:
    short, long = Span(1.0, 1.5, 48_000, 72_000, 0), Span(2.0, 3.0, 96_000, 144_000, 0)
    assert one(with_silence(good), "digital_silence") == ("digital-silence-none", GOOD)
    assert one(with_silence(good, short), "digital_silence") == ("digital-silence", NOTE)
    assert one(with_silence(good, short, long), "digital_silence") == ("digital-silence", LOOK_CLOSER)


def test_silence_that_is_a_dropout_is_told_once(good: Measurement) -> None:
    gap, pause = Span(1.0, 1.5, 48_000, 72_000, 0), Span(2.0, 2.2, 96_000, 105_600, 0)
    assert one(with_dropouts(with_silence(good, gap), gap), "digital_silence") == ("digital-silence-none", GOOD)
    (finding,) = found(with_dropouts(with_silence(good, gap, pause), gap), "digital_silence")
    assert (finding.code, finding.spans) == ("digital-silence", (pause,))
    other_channel = replace(gap, channel=1)
    assert one(with_dropouts(with_silence(good, gap), other_channel), "digital_silence")[0] == "digital-silence"


def test_the_silence_of_a_dead_channel_is_told_once(good: Measurement) -> None:
    silent = ChannelLevel(None, None, None, None, 0.0, "The channel is digital silence.")
    measurement = with_silence(good, Span(0.0, 6.0, 0, 288_000, 1))
    measurement = replace(measurement, levels=channel_levels(good.levels.channels[0], silent))
    assert one(measurement, "digital_silence") == ("digital-silence-none", GOOD)
    (finding,) = found(measurement, "channels")
    assert (finding.code, finding.standing, finding.channel, finding.value) == ("channel-dead", PROBLEM, 1, None)
    assert "right channel" in finding.volunteer


def with_levels(good: Measurement, left: float, right: float) -> Measurement:
    levels = channel_levels(*(replace(good.levels.channels[0], rms_without_dc_dbfs=level) for level in (left, right)))
    return replace(good, levels=levels)


CHANNELS = [
    (-25.0, -25.0, ["channels-good"]),
    (-25.0, -30.9, ["channels-good"]),
    (-25.0, -31.1, ["channels-unbalanced"]),
    (-31.1, -25.0, ["channels-unbalanced"]),
    (-25.0, -69.9, ["channels-unbalanced"]),
    (-25.0, -70.1, ["channel-dead"]),
    (-75.0, -72.0, ["channels-good"]),
]


@pytest.mark.parametrize(("left", "right", "codes"), CHANNELS)
def test_levels_of_channels(good: Measurement, left: float, right: float, codes: list[str]) -> None:
    assert [finding.code for finding in found(with_levels(good, left, right), "channels")] == codes


def with_loss(good: Measurement, level: float | None, below: float | None) -> Measurement:
    return replace(good, channel_losses=(ChannelLoss(Span(2.0, 5.0, 96_000, 240_000, 1), level, below),))


@pytest.mark.parametrize(
    ("level", "below", "code"),
    [
        (None, None, "channel-lost"),
        (-70.1, 30.1, "channel-lost"),
        (-69.9, 40.0, "channels-good"),
        (-80.0, 29.9, "channels-good"),
    ],
)
def test_a_channel_lost_for_a_while(good: Measurement, level: float | None, below: float | None, code: str) -> None:
    assert one(with_loss(good, level, below), "channels")[0] == code


def test_the_quieter_channel_is_the_one_named(good: Measurement) -> None:
    assert found(with_levels(good, -40.0, -25.0), "channels")[0].channel == 0
    assert found(with_levels(good, -25.0, -40.0), "channels")[0].channel == 1


CORRELATIONS = [
    (0.9994, False, "channels-good", GOOD),
    (0.9995, False, "channels-identical", NOTE),
    (1.0, True, "channels-identical", NOTE),
    (None, True, "channels-identical", NOTE),
    (None, False, "channels-good", GOOD),
    (-0.5, False, "channels-good", GOOD),
    (-0.51, False, "channel-inverted", PROBLEM),
]


@pytest.mark.parametrize(("correlation", "identical", "code", "standing"), CORRELATIONS)
def test_correlation_of_channels(
    good: Measurement, correlation: float | None, identical: bool, code: str, standing: str
) -> None:
    measurement = replace(good, channel_pairs=(ChannelPair(0, 1, correlation, identical),))
    assert one(measurement, "channels") == (code, standing)


def test_one_channel_and_very_short_recordings_are_not_compared(good: Measurement) -> None:
    mono = replace(
        good, format=replace(good.format, channels=1), levels=channel_levels(good.levels.channels[0]), channel_pairs=()
    )
    assert one(mono, "channels") == ("channels-one", GOOD)
    short = replace(good, format=replace(good.format, seconds=0.5))
    assert one(short, "channels") == ("channels-not-measured", NOT_MEASURED)


def test_marks_are_counted(good: Measurement) -> None:
    measurement = replace(good, marks=(Mark(1.0, 48_000, "one"), Mark(2.0, 96_000, "")))
    (finding,) = found(measurement, "marks")
    assert (finding.code, finding.standing, finding.value) == ("marks-found", GOOD, 2.0)


def every_finding(good: Measurement) -> list[Finding]:
    measurements = [
        good,
        *(with_peak(good, dbtp) for dbtp, _, _ in PEAKS),
        *(with_clipping(good, moments, share, longest) for moments, share, longest, _, _ in CLIPPINGS),
        *(with_voice(good, level, reliable) for level, reliable, _, _ in VOICES),
        *(with_distance(good, distance) for distance, _, _ in DISTANCES),
        *(with_long_silence(good, seconds) for seconds in (0.0, 300.0)),
        with_long_silence(good, 0.0, "No pauses."),
        without_pauses(good),
        *(with_levels(good, left, right) for left, right, _ in CHANNELS),
        *(replace(good, channel_pairs=(ChannelPair(0, 1, c, same),)) for c, same, _, _ in CORRELATIONS),
        *(replace(good, format=replace(good.format, **change)) for change, _, _ in FORMATS),
        *(replace(good, structure=(StructureNote(code, "Seen."),)) for code in STRUCTURE),
        *(with_hum(good, prominence, level) for prominence, level, _, _ in HUMS),
        *(with_bursts(good, *over, seconds=seconds) for over, seconds, _, _ in RUMBLES),
        *(with_band(good, edge, reason) for edge, reason, _, _ in BANDS),
        with_loss(good, None, None),
        with_loss(good, -80.0, 45.0),
        with_silence(good, Span(1.0, 2.5, 48_000, 120_000, 0)),
    ]
    return [finding for measurement in measurements for finding in judge(measurement, SPOKEN_INTERVIEW)]


def test_every_finding_speaks_to_volunteer_and_archivist_in_one_sentence_each(good: Measurement) -> None:
    for finding in every_finding(good):
        assert finding.standing in STANDINGS
        assert finding.title
        assert finding.code == finding.code.lower().replace("_", "-").replace(" ", "-")
        assert finding.volunteer.endswith("."), finding
        assert finding.volunteer.count(". ") == 0, finding
        assert finding.volunteer[0].isupper()
        assert finding.archivist.endswith("."), finding
        assert "{" not in finding.volunteer + finding.archivist
        if finding.standing == NOT_MEASURED:
            assert finding.value is None
            assert finding.reason


def test_no_finding_blames_the_volunteer(good: Measurement) -> None:
    blame = ("you failed", "your fault", "you did not", "you should have", "wrong", "mistake", "careless")
    for finding in every_finding(good):
        assert not any(word in finding.volunteer.lower() for word in blame), finding.volunteer


def test_judging_uses_the_limits_of_the_profile_it_is_given(good: Measurement) -> None:
    stricter = replace(SPOKEN_INTERVIEW, peak_high=Limit(-10.0, "dBFS", "For this test."))
    codes = {finding.measure: finding.code for finding in judge(good, stricter)}
    assert codes["true_peak"] == "peaks-high"


def test_every_limit_of_the_profile_changes_an_opinion(good: Measurement) -> None:
    """A limit that nothing reads would be a promise not kept."""
    names = [field.name for field in fields(Profile) if field.type in (Limit, "Limit")]
    read: set[str] = set()

    class Watching:
        def __getattr__(self, name: str) -> Any:
            read.add(name)
            return getattr(SPOKEN_INTERVIEW, name)

    for measurement in (good, with_levels(good, -20.0, -90.0), with_clipping(good, 1, 0.0001, 0.0001)):
        judge(measurement, Watching())  # type: ignore[arg-type]
    judge(with_peak(good, -60.0), Watching())  # type: ignore[arg-type]
    judge(with_voice(good, -50.0), Watching())  # type: ignore[arg-type]
    judge(with_distance(good, 1.0), Watching())  # type: ignore[arg-type]
    judge(with_long_silence(good, 40.0), Watching())  # type: ignore[arg-type]
    assert read == set(names)


VERDICTS = [
    ([], (GOOD, "Clear recording, nothing to mend.")),
    (["peaks-high"], (NOTE, "Clear recording: peaks a little high.")),
    (["peaks-high", "clipped"], (LOOK_CLOSER, "Worth a closer listen: 3 short clipped moments, peaks a little high.")),
    (
        ["long-silence", "channel-dead", "dc-offset", "peaks-high", "format-low"],
        (
            PROBLEM,
            "Needs attention: a channel without sound, a file of low resolution, a long silence and 2 more.",
        ),
    ),
]


@pytest.mark.parametrize(("codes", "expected"), VERDICTS)
def test_the_verdict_names_the_worst_first(codes: list[str], expected: tuple[str, str]) -> None:
    standings = {"clipped": LOOK_CLOSER, "format-low": LOOK_CLOSER, "channel-dead": PROBLEM}
    findings = [Finding(code, "any", standings.get(code, NOTE), "Any", value=3.0) for code in codes]
    assert verdict(iter([Finding("peaks-good", "true_peak", GOOD, "Highest peak"), *findings])) == expected


def test_what_could_not_be_measured_does_not_spoil_the_verdict() -> None:
    assert verdict([Finding("noise-not-measured", "noise_floor", NOT_MEASURED, "Noise")])[0] == GOOD


def test_every_troubling_code_has_words_for_the_verdict(good: Measurement) -> None:
    for finding in every_finding(good):
        if finding.standing in (PROBLEM, LOOK_CLOSER):
            assert ":" in verdict([finding])[1], finding.code


@pytest.mark.parametrize(("seconds", "text"), [(0.4, "0:00"), (67.9, "1:07"), (3723.0, "1:02:03")])
def test_places_are_read_off_a_players_clock(seconds: float, text: str) -> None:
    assert clock(seconds) == text


def test_three_places_are_named_and_more_are_hinted_at() -> None:
    spans = tuple(Span(n * 60.0, n * 60.0 + 1, 0, 0, 0) for n in range(5))
    assert places(spans[:1]) == "at 0:00"
    assert places(spans[:3]) == "at 0:00, 1:00 and 2:00"
    assert places(spans) == "at 0:00, 1:00, 2:00 and later"
