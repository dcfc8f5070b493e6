"""What every finding must say, and the verdict that sums them up."""

from dataclasses import fields, replace
from typing import Any

import pytest

from audio_qc import SPOKEN_INTERVIEW, Finding, Measurement, judge
from audio_qc.facts.faults import (
    Span,
)
from audio_qc.facts.file import StructureNote
from audio_qc.facts.sound import ChannelPair
from audio_qc.finding import GOOD, LOOK_CLOSER, NOT_MEASURED, NOTE, PROBLEM, STANDINGS
from audio_qc.profile import Limit, Profile
from audio_qc.rules.formats import STRUCTURE
from audio_qc.rules.words import clock, places
from audio_qc.verdict import verdict
from tests.audio_qc.changed import (
    with_band,
    with_bursts,
    with_clipping,
    with_distance,
    with_hum,
    with_levels,
    with_long_silence,
    with_loss,
    with_peak,
    with_silence,
    with_voice,
    without_pauses,
)
from tests.audio_qc.test_judge import BANDS, CLIPPINGS, DISTANCES, HUMS, PEAKS, RUMBLES, VOICES
from tests.audio_qc.test_judge_file import CHANNELS, CORRELATIONS, FORMATS


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
