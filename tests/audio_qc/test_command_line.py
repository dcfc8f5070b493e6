"""`python -m audio_qc FILE`, run as people run it."""

import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

import audio_qc
from audio_qc.__main__ import main
from tests.audio_qc.test_source import REFUSED
from tests.signals import stereo, tone, write

ROOT = Path(audio_qc.__file__).parent.parent
REFUSED_CONTENTS = [bytes(case.values[0]) for case in REFUSED]  # type: ignore[arg-type]


def run(*arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, *arguments],
        capture_output=True,
        text=True,
        check=False,
        timeout=300,
        env={**os.environ, "PYTHONPATH": str(ROOT), **environment},
    )


def test_a_good_file_prints_its_report_and_exits_0(good_file: Path) -> None:
    done = run("-m", "audio_qc", str(good_file))
    assert (done.returncode, done.stderr) == (0, "")
    printed = json.loads(done.stdout)
    assert printed["verdict"]["standing"] == "good"
    assert audio_qc.Measurement.from_dict(printed["measurement"]) == audio_qc.measure(good_file)


def test_notes_alone_exit_0_and_findings_exit_1(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    fine = write(tmp_path / "fine.wav", tone(3, -8.0), subtype="PCM_16")
    clipped = write(tmp_path / "clipped.wav", np.clip(tone(3, 6.0), -1.0, 1.0))
    assert main([str(fine)]) == 0
    assert json.loads(capsys.readouterr().out)["verdict"]["standing"] == "note"
    assert main([str(clipped)]) == 1
    assert json.loads(capsys.readouterr().out)["verdict"]["standing"] == "problem"


def test_an_unreadable_file_exits_2_with_its_sentence_on_stderr(tmp_path: Path) -> None:
    path = tmp_path / "letter.wav"
    path.write_text("Dear all,\n")
    done = run("-m", "audio_qc", str(path))
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == "This is not a sound file: it does not begin like one, whatever its name says.\n"


def test_a_refusal_never_waits_for_compiled_code(tmp_path: Path) -> None:
    path = tmp_path / "letter.wav"
    path.write_text("Dear all,\n")
    code = (
        "import sys, audio_qc\n"
        "try:\n    audio_qc.measure(sys.argv[1])\n"
        "except audio_qc.Unreadable:\n    print(sorted({'numba', 'scipy', 'av', 'django'} & set(sys.modules)))"
    )
    done = run("-c", code, str(path))
    assert (done.returncode, done.stdout) == (0, "[]\n"), done.stderr


def test_every_refusal_takes_less_than_a_second_and_no_compiled_code(tmp_path: Path) -> None:
    flac = write(tmp_path / "a.flac", tone(1, -12.0), subtype="PCM_16")
    flac.write_bytes(flac.read_bytes()[:90] + bytes(10_000))
    for number, content in enumerate(REFUSED_CONTENTS):
        (tmp_path / f"{number}.wav").write_bytes(content)
    code = (
        "import sys, time, audio_qc\n"
        "for path in sys.argv[1:]:\n"
        "    began = time.monotonic()\n"
        "    try:\n        audio_qc.measure(path)\n"
        "    except audio_qc.Unreadable:\n"
        "        print(time.monotonic() - began < 1, sorted({'numba', 'scipy', 'django'} & set(sys.modules)))"
    )
    done = run("-c", code, *map(str, sorted(tmp_path.iterdir())))
    assert done.stdout.splitlines() == ["True []"] * (len(REFUSED_CONTENTS) + 1), done.stderr


def test_it_works_where_nothing_can_be_cached(tmp_path: Path) -> None:
    """As when the package is installed read-only and no cache folder is given."""
    path = write(tmp_path / "a.wav", stereo(tone(1, -8.0), tone(1, -9.0, hz=500.0)))
    code = (
        "import sys\n"
        "from numba.core import caching\n"
        "for locator in caching.CacheImpl._locator_classes:\n"
        "    locator.from_function = classmethod(lambda *given: None)\n"
        "import audio_qc\n"
        "print(audio_qc.measure(sys.argv[1]).loudness.integrated_lufs)"
    )
    done = run("-c", code, str(path))
    assert done.returncode == 0, done.stderr
    assert float(done.stdout) == pytest.approx(audio_qc.measure(path).loudness.integrated_lufs or 0.0, abs=1e-6)


def test_the_package_imports_nothing_of_the_site() -> None:
    code = (
        "import sys, audio_qc, audio_qc.__main__, audio_qc.meters.loudness\n"
        "print(sorted({'intake', 'django', 'celery'} & set(sys.modules)))"
    )
    assert run("-c", code).stdout == "[]\n"
