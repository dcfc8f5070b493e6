"""Measurements and findings survive JSON, and damaged records are refused."""

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

import audio_qc
from audio_qc import SPOKEN_INTERVIEW, AudioQCError, Finding, Measurement, ProfileError, judge, load_profile, report
from audio_qc.errors import StoredDataError
from audio_qc.facts.faults import Span
from audio_qc.facts.file import Broadcast, Details, InfoText, Mark
from audio_qc.measurement import SCHEMA

PROFILE = Path(audio_qc.__file__).parent / "profiles" / "spoken-interview.toml"


def test_a_measurement_survives_json(good: Measurement) -> None:
    details = Details(Broadcast("d", "o", "r", "2026-05-03", "10:00:00", 7, 1, "A=PCM"), (InfoText("INAM", "Part"),))
    full = replace(good, marks=(Mark(1.0, 48_000, "Fähre"),), details=details)
    for measurement in (good, full):
        stored = json.loads(json.dumps(measurement.to_dict(), allow_nan=False))
        assert stored["schema"] == SCHEMA
        assert Measurement.from_dict(stored) == measurement


def test_findings_survive_json(good: Measurement) -> None:
    located = Finding("clipped", "clipping", "look closer", "Clipping", 1.0, spans=(Span(0.0, 0.1, 0, 4800, 1),))
    for finding in (*judge(good, SPOKEN_INTERVIEW), located):
        assert Finding.from_dict(json.loads(json.dumps(finding.to_dict(), allow_nan=False))) == finding


def test_a_report_is_ready_for_json(good_file: Path) -> None:
    data = json.loads(json.dumps(report(good_file).to_dict(), allow_nan=False))
    assert sorted(data) == ["findings", "measurement"]


def test_whole_numbers_stored_for_decimals_come_back_as_decimals(good: Measurement) -> None:
    stored = json.loads(json.dumps(good.to_dict()))
    stored["format"]["seconds"] = 6
    assert isinstance(Measurement.from_dict(stored).format.seconds, float)


def drop(data: dict[str, Any]) -> None:
    del data["loudness"]["integrated_lufs"]


def retype(data: dict[str, Any]) -> None:
    data["format"]["channels"] = "two"


def another_schema(data: dict[str, Any]) -> None:
    data["schema"] = SCHEMA - 1


def unlist(data: dict[str, Any]) -> None:
    data["waveform"]["peaks"] = 5


def flatten(data: dict[str, Any]) -> None:
    data["loudness"] = -23.0


@pytest.mark.parametrize("damage", [drop, retype, another_schema, unlist, flatten])
def test_a_damaged_record_is_refused(good: Measurement, damage: Any) -> None:
    stored = json.loads(json.dumps(good.to_dict()))
    damage(stored)
    with pytest.raises(StoredDataError):
        Measurement.from_dict(stored)


def test_a_number_that_is_not_finite_is_never_stored(good: Measurement) -> None:
    with pytest.raises(ValueError, match="finite"):
        replace(good, format=replace(good.format, seconds=float("nan"))).to_dict()


def test_the_default_profile_explains_every_limit() -> None:
    assert (SPOKEN_INTERVIEW.name, SPOKEN_INTERVIEW.version) == ("spoken-interview", 2)
    assert load_profile(PROFILE) == SPOKEN_INTERVIEW


PROFILE_DAMAGES = [
    ('name = "spoken-interview"\n', ""),
    ("version = 2", 'version = "one"'),
    ("[peak_low]", "[peak_lowest]"),
    ("value = 48000", 'value = "fast"'),
    ("value = 48000", "value = nan"),
    ("value = 48000\n", ""),
    ('reason = "IASA-TC 04 asks for 24 bits."', 'reason = " "'),
    ("[peak_low]", "[peak_low"),
]


@pytest.mark.parametrize(("text", "instead"), PROFILE_DAMAGES)
def test_an_incomplete_or_unexplained_profile_is_refused(text: str, instead: str, tmp_path: Path) -> None:
    content = PROFILE.read_text(encoding="utf-8")
    assert text in content
    path = tmp_path / "mine.toml"
    path.write_text(content.replace(text, instead, 1), encoding="utf-8")
    with pytest.raises(ProfileError):
        load_profile(path)


def test_a_missing_profile_is_refused_in_a_sentence(tmp_path: Path) -> None:
    with pytest.raises(AudioQCError, match="cannot be read"):
        load_profile(tmp_path / "none.toml")
