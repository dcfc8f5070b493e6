"""Findings on channels, the file and what the recorder wrote, for facts on both sides of every limit."""

from dataclasses import replace
from typing import Any

import pytest

from audio_qc import Measurement
from audio_qc.facts.faults import (
    Span,
)
from audio_qc.facts.file import Mark, StructureNote
from audio_qc.facts.sound import ChannelLevel, ChannelPair
from audio_qc.finding import GOOD, LOOK_CLOSER, NOT_MEASURED, NOTE, PROBLEM
from audio_qc.rules.formats import STRUCTURE
from tests.audio_qc.changed import channel_levels, found, one, with_dropouts, with_levels, with_loss, with_silence

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
