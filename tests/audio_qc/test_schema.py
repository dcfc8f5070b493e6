"""The JSON Schema is what the code writes, and every report keeps to it."""

import copy
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from jsonschema import Draft202012Validator, ValidationError

import audio_qc
from audio_qc import SPOKEN_INTERVIEW
from audio_qc.command import main
from audio_qc.command.outcome import measured
from audio_qc.schema import schema
from tests.audio_qc.helpers import REFERENCE, files, needs_reference
from tests.signals import silence, stereo, tone, write

COMMITTED = Path(audio_qc.__file__).with_name("report.schema.json")


@pytest.fixture(scope="session")
def validator() -> Draft202012Validator:
    return Draft202012Validator(json.loads(COMMITTED.read_text(encoding="utf-8")))


def printed(path: Path) -> dict[str, Any]:
    """Return what --json prints of a file, as another program reads it."""
    data: dict[str, Any] = json.loads(json.dumps(measured(str(path), SPOKEN_INTERVIEW, lambda share: None).to_dict()))
    return data


def test_the_committed_schema_is_the_code_s(capsys: pytest.CaptureFixture[str]) -> None:
    """If this fails: python -m audio_qc schema > audio_qc/report.schema.json."""
    assert json.loads(COMMITTED.read_text(encoding="utf-8")) == schema()
    assert main(["schema"]) == 0
    assert capsys.readouterr().out == COMMITTED.read_text(encoding="utf-8")


def test_the_schema_is_a_schema_and_explains_every_type() -> None:
    Draft202012Validator.check_schema(schema())
    described = {name: one.get("description", "") for name, one in schema()["$defs"].items() if name != "File"}
    assert all(described.values())


def test_every_kind_of_report_keeps_to_the_schema(
    good_file: Path, tmp_path: Path, validator: Draft202012Validator
) -> None:
    clipped = np.clip(tone(3, 6.0), -1.0, 1.0)
    paths = [
        good_file,
        write(tmp_path / "silent.wav", silence(3)),
        write(tmp_path / "short.wav", tone(0.05, -10.0)),
        write(tmp_path / "clipped.wav", stereo(clipped, np.concatenate((silence(1.5), tone(1.5, -3.0))))),
        write(tmp_path / "eight.wav", np.stack([tone(1, -20.0)] * 8, axis=1)),
        tmp_path / "missing.wav",
    ]
    for path in paths:
        validator.validate(printed(path))
    validator.validate([printed(path) for path in paths])


@needs_reference
@pytest.mark.parametrize("folder", ["speech", "faulty", "headers"])
def test_real_recordings_keep_to_the_schema(folder: str, validator: Draft202012Validator) -> None:
    for name in files(folder):
        validator.validate(printed(REFERENCE / folder / name))


@pytest.mark.parametrize(
    ("place", "value"),
    [
        (("measurement", "loudness", "integrated_lufs"), "loud"),
        (("measurement", "format", "channels"), 1.5),
        (("measurement", "schema"), 99),
        (("verdict", "standing"), "fine"),
        (("findings", 0, "unknown"), 1),
    ],
)
def test_the_schema_refuses_what_the_code_never_writes(
    place: tuple[Any, ...], value: Any, good_file: Path, validator: Draft202012Validator
) -> None:
    data = copy.deepcopy(printed(good_file))
    inside: Any = data
    for step in place[:-1]:
        inside = inside[step]
    inside[place[-1]] = value
    with pytest.raises(ValidationError):
        validator.validate(data)
