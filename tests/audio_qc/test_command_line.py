"""`python -m audio_qc FILE...`, run as people run it."""

import csv
import io
import json
import os
import pty
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

import audio_qc
from audio_qc.command import main
from audio_qc.headline import HEADLINE_KEYS
from tests.audio_qc.test_source import REFUSED
from tests.signals import chunk, fmt, stereo, tone, wav, write

ROOT = Path(audio_qc.__file__).parent.parent
LETTER = "This is not a sound file: it does not begin like one, whatever its name says."
REFUSED_CONTENTS = [bytes(case.values[0]) for case in REFUSED]  # type: ignore[arg-type]


def run(*arguments: str, cwd: Path | None = None, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, *arguments],
        capture_output=True,
        text=True,
        check=False,
        timeout=300,
        cwd=cwd,
        env={**os.environ, "PYTHONPATH": str(ROOT), **environment},
    )


@pytest.fixture
def letter(tmp_path: Path) -> Path:
    path = tmp_path / "letter.wav"
    path.write_text("Dear all,\n")
    return path


@pytest.fixture
def folder(tmp_path: Path, good_file: Path) -> Path:
    """Return a folder with a good recording, a letter, one recording a folder down, and what is no recording."""
    place = tmp_path / "card"
    (place / "day2").mkdir(parents=True)
    shutil.copy(good_file, place / "a.wav")
    (place / "b.wav").write_text("Dear all,\n")
    write(place / "day2" / "c.FLAC", np.clip(tone(3, 6.0), -1.0, 1.0))
    (place / "notes.txt").write_text("not asked for")
    (place / "._a.wav").write_bytes(b"what a system keeps beside a.wav")
    return place


def test_a_good_file_is_told_in_words_and_exits_0(good_file: Path) -> None:
    done = run("-m", "audio_qc", str(good_file))
    assert (done.returncode, done.stderr) == (0, "")
    assert "GOOD  Clear recording, nothing to mend." in done.stdout
    assert "LUFS" in done.stdout
    assert "dBTP" in done.stdout
    assert "limit:" not in done.stdout.lower()


def test_the_archivist_gets_every_figure_on_request(good_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([str(good_file), "--figures"]) == 0
    shown = " ".join(capsys.readouterr().out.split())
    for finding in audio_qc.report(good_file).findings:
        assert " ".join(finding.archivist.split()) in shown


def test_a_finding_says_where_on_the_clock(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sound = np.concatenate((tone(62, -12.0), np.clip(tone(2, 6.0), -1.0, 1.0), tone(2, -12.0)))
    assert main([str(write(tmp_path / "clipped.wav", sound))]) == 1
    assert "at 1:02 to 1:03" in capsys.readouterr().out


def test_the_worst_is_told_first(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = write(tmp_path / "clipped.wav", np.clip(tone(3, 6.0), -1.0, 1.0), subtype="PCM_16")
    assert main([str(path), "--figures"]) == 1
    ranks = {"problem": 0, "look": 1, "note": 2, "not": 3, "good": 4}
    told = [ranks[line.split()[0]] for line in capsys.readouterr().out.splitlines() if line.startswith(tuple(ranks))]
    assert set(told) >= {0, 1, 2, 4}
    assert told == sorted(told)


def test_notes_alone_exit_0_and_findings_exit_1(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    fine = write(tmp_path / "fine.wav", tone(3, -8.0), subtype="PCM_16")
    clipped = write(tmp_path / "clipped.wav", np.clip(tone(3, 6.0), -1.0, 1.0))
    assert main([str(fine), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["verdict"]["standing"] == "note"
    assert main([str(clipped), "--json"]) == 1
    assert json.loads(capsys.readouterr().out)["verdict"]["standing"] == "problem"


def test_json_of_one_file_is_one_object_that_gives_the_measurement_back(good_file: Path) -> None:
    done = run("-m", "audio_qc", str(good_file), "--json")
    assert (done.returncode, done.stderr) == (0, "")
    printed = json.loads(done.stdout)
    assert (printed["file"], printed["audio_qc"]) == (str(good_file), audio_qc.__version__)
    assert printed["verdict"] == {"standing": "good", "sentence": "Clear recording, nothing to mend."}
    assert audio_qc.Report.from_dict(printed) == audio_qc.report(good_file)


def test_an_unreadable_file_exits_2_with_its_sentence_on_stderr(letter: Path) -> None:
    done = run("-m", "audio_qc", str(letter))
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == f"{letter}: {LETTER}\n"


def test_an_unreadable_file_is_an_error_in_json(letter: Path) -> None:
    done = run("-m", "audio_qc", str(letter), "--json")
    assert (done.returncode, done.stderr) == (2, "")
    assert json.loads(done.stdout) == {"file": str(letter), "error": LETTER}


def test_of_a_folder_every_sound_file_is_measured_and_one_that_fails_stops_no_other(folder: Path) -> None:
    done = run("-m", "audio_qc", str(folder), "--json")
    assert (done.returncode, done.stderr) == (2, "")
    printed = {Path(one["file"]).relative_to(folder).as_posix(): one for one in json.loads(done.stdout)}
    assert list(printed) == ["a.wav", "b.wav", "day2/c.FLAC"]
    assert printed["a.wav"]["verdict"]["standing"] == "good"
    assert printed["b.wav"]["error"] == LETTER
    assert printed["day2/c.FLAC"]["verdict"]["standing"] == "problem"


def test_wildcards_that_the_shell_left_alone_are_looked_up(folder: Path) -> None:
    done = run("-m", "audio_qc", "**/*.FLAC", "*.wav", "none*.wav", "--json", "--jobs", "1", cwd=folder)
    printed = json.loads(done.stdout)
    assert [one["file"] for one in printed] == [os.path.join("day2", "c.FLAC"), "a.wav", "b.wav", "none*.wav"]
    assert printed[-1]["error"] == "No file has such a name."


def test_a_file_whose_name_looks_like_a_wildcard_is_that_file(
    good_file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shutil.copy(good_file, tmp_path / "take[1].wav")
    assert main([str(tmp_path / "take[1].wav"), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["file"].endswith("take[1].wav")


def test_a_folder_without_sound_files_is_an_error_in_an_array(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([str(tmp_path), "--json"]) == 2
    error = "There is no sound file in this folder."
    assert json.loads(capsys.readouterr().out) == [{"file": str(tmp_path), "error": error}]


def test_csv_has_a_row_a_file_and_a_column_a_figure(folder: Path) -> None:
    done = run("-m", "audio_qc", str(folder), "--csv")
    rows = list(csv.DictReader(io.StringIO(done.stdout)))
    assert list(rows[0])[-len(HEADLINE_KEYS) :] == list(HEADLINE_KEYS)
    assert [row["standing"] for row in rows] == ["good", "", "problem"]
    assert rows[1]["error"] == LETTER
    loudness = audio_qc.measure(folder / "a.wav").loudness.integrated_lufs
    assert float(rows[0]["integrated_lufs"]) == pytest.approx(loudness, abs=0.006)
    assert rows[1]["integrated_lufs"] == ""


def test_no_cell_of_the_csv_is_taken_for_a_formula(
    good_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    shutil.copy(good_file, "=cmd()|A1.wav")
    assert main(["=cmd()|A1.wav", "--csv"]) == 0
    assert next(csv.DictReader(io.StringIO(capsys.readouterr().out)))["file"] == "'=cmd()|A1.wav"


def test_every_headline_key_is_in_the_measurement_once(good: audio_qc.Measurement) -> None:
    def keys(data: object) -> list[str]:
        if isinstance(data, dict):
            return [*data, *(key for value in data.values() for key in keys(value))]
        return [key for value in data for key in keys(value)] if isinstance(data, list) else []

    found = keys(good.to_dict())
    assert {key: found.count(key) for key in HEADLINE_KEYS} == dict.fromkeys(HEADLINE_KEYS, 1)


def test_a_name_cannot_command_the_terminal(
    good_file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "a\x1b]0;owned\x07[red]b\u202e.wav"
    shutil.copy(good_file, path)
    assert main([str(path)]) == 0
    assert "a\ufffd]0;owned\ufffd[red]b\ufffd.wav" in capsys.readouterr().out.replace("\n", "")


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere names of files are always text")
def test_a_name_that_is_no_text_comes_back_from_json(good_file: Path, tmp_path: Path) -> None:
    name = os.fsencode(tmp_path) + b"/\xff.wav"
    shutil.copy(good_file, name)
    done = run("-m", "audio_qc", os.fsdecode(name), "--json")
    assert os.fsencode(json.loads(done.stdout)["file"]) == name


@pytest.mark.parametrize(
    "arguments",
    [[], ["--json", "--csv", "a.wav"], ["a.wav", "--jobs", "0"], ["a.wav", "--profile", "none.toml"], ["marks"],
     ["a.wav", "--html", "a.wav"], ["a.wav", "--html", "no/such/folder/a.html"]],
)  # fmt: skip
def test_a_mistake_in_the_command_exits_2_before_anything_is_done(
    arguments: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as ended:
        main(arguments)
    assert ended.value.code == 2
    assert "usage:" in capsys.readouterr().err


def test_another_profile_judges_by_its_own_limits(good_file: Path, tmp_path: Path) -> None:
    text = (ROOT / "audio_qc" / "profiles" / "spoken-interview.toml").read_text(encoding="utf-8")
    stricter = tmp_path / "stricter.toml"
    stricter.write_text(text.replace("value = 48000", "value = 96000"), encoding="utf-8")
    assert json.loads(run("-m", "audio_qc", str(good_file), "--json").stdout)["verdict"]["standing"] == "good"
    done = run("-m", "audio_qc", str(good_file), "--json", "--profile", str(stricter))
    assert json.loads(done.stdout)["verdict"]["standing"] == "note"


def test_progress_is_shown_on_a_terminal_and_never_mixed_with_the_json(good_file: Path) -> None:
    ours, theirs = pty.openpty()
    command = [sys.executable, "-m", "audio_qc", str(good_file), "--json"]
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "TERM": "xterm"}
    done = subprocess.run(command, stdout=subprocess.PIPE, stderr=theirs, check=False, timeout=300, env=environment)
    os.close(theirs)
    assert b"part.wav" in os.read(ours, 65_536)
    os.close(ours)
    assert json.loads(done.stdout)["file"] == str(good_file)


def test_compiling_is_announced_where_nothing_has_been_compiled(good_file: Path, tmp_path: Path) -> None:
    code = "from audio_qc.command.compiling import must_compile; print(must_compile())"
    assert run("-c", code, NUMBA_CACHE_DIR=str(tmp_path)).stdout == "True\n"
    audio_qc.measure(good_file)
    assert run("-c", code).stdout == "False\n"


def test_ctrl_c_stops_all_processes_without_a_word(folder: Path, tmp_path: Path) -> None:
    """Without a cache each process compiles for many seconds, so there is something to stop."""
    shutil.copy(folder / "a.wav", folder / "d.wav")
    command = [sys.executable, "-m", "audio_qc", str(folder / "a.wav"), str(folder / "d.wav"), "--jobs", "2"]
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "NUMBA_CACHE_DIR": str(tmp_path / "cold")}
    running = subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=environment, start_new_session=True
    )
    time.sleep(3)
    os.killpg(running.pid, signal.SIGINT)
    out, err = running.communicate(timeout=30)  # waits for every process that holds the pipes
    assert (running.returncode, out, err) == (130, b"", b"")


@pytest.mark.parametrize("how", ["--json", "--csv", "--figures"])
def test_nobody_reading_any_more_is_no_accident(how: str, good_file: Path) -> None:
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    command = [sys.executable, "-m", "audio_qc", str(good_file), how]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=environment) as running:
        assert running.stdout is not None
        assert running.stderr is not None
        running.stdout.close()
        assert running.stderr.read() == b""
        assert running.wait(timeout=300) == 141


@pytest.mark.parametrize(
    "arguments", [["--help"], ["marks", "--help"], ["schema", "--help"], ["letter.wav"], ["none.wav"]]
)
def test_help_and_refusals_never_wait_for_compiled_code(arguments: list[str], letter: Path) -> None:
    code = (
        "import sys\nfrom audio_qc.command import main\n"
        "try:\n    main(sys.argv[1:])\nexcept SystemExit:\n    pass\n"
        "sys.stderr.write('loaded ' + repr(sorted({'numba', 'scipy', 'av', 'django'} & set(sys.modules))))"
    )
    done = run("-c", code, *arguments, cwd=letter.parent)
    assert done.stderr.endswith("loaded []")


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


@pytest.fixture
def marked(tmp_path: Path) -> Path:
    """Return ten seconds at 8 kHz with marks at 1.5 s and 9 s, the second with a label, built byte by byte."""
    points = b"".join(
        number.to_bytes(4, "little") + at.to_bytes(4, "little") + b"data" + bytes(8) + at.to_bytes(4, "little")
        for number, at in ((1, 12_000), (2, 72_000))
    )
    label = chunk(b"labl", (2).to_bytes(4, "little") + b"=second\x1b[2J\0")
    path = tmp_path / "marked.wav"
    path.write_bytes(
        wav(
            fmt(), chunk(b"data", bytes(160_000)), chunk(b"cue ", (2).to_bytes(4, "little") + points),
            chunk(b"LIST", b"adtl" + label),
        )
    )  # fmt: skip
    return path


def test_marks_are_listed_with_their_places(marked: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["marks", str(marked)]) == 0
    table = capsys.readouterr().out
    assert [line.split() for line in table.splitlines()[1:]] == [
        ["0:00:01.500", "12000"],
        ["0:00:09.000", "72000", "=second[2J"],
    ]


def test_marks_as_csv_hold_no_formula(marked: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["marks", str(marked), "--csv"]) == 0
    rows = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    assert [(row["at_seconds"], row["at_frame"]) for row in rows] == [("1.500", "12000"), ("9.000", "72000")]
    assert rows[1]["label"].startswith("'=second")


def test_a_file_without_marks_says_so_and_one_that_is_no_sound_exits_2(
    good_file: Path, letter: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["marks", str(good_file)]) == 0
    assert capsys.readouterr().out == "The recorder left no marks in the file.\n"
    assert main(["marks", str(letter)]) == 2
    assert LETTER in capsys.readouterr().err


@pytest.fixture
def unfinished(tmp_path: Path) -> Path:
    """Return two seconds whose recorder stopped before it wrote how long the sound is."""
    path = write(tmp_path / "un finished.wav", tone(2, -8.0), subtype="PCM_16")
    content = path.read_bytes()
    at = content.index(b"data") + 4
    path.write_bytes(content[:4] + bytes(4) + content[8:at] + bytes(4) + content[at + 4 :])
    return path


def test_an_unfinished_file_is_salvaged_beside_it_as_the_report_says(
    unfinished: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = unfinished.read_bytes()
    assert main([str(unfinished)]) == 1
    told = f"python -m audio_qc salvage '{unfinished}'"
    assert "".join(told.split()) in "".join(capsys.readouterr().out.split())  # however the lines are broken
    assert main(["salvage", str(unfinished)]) == 0
    copy = unfinished.with_name("un finished-salvaged.wav")
    assert capsys.readouterr().out.startswith(f"{copy}: 0:02 of sound, the same samples, byte for byte.\n")
    facts = audio_qc.measure(copy)
    assert (facts.format.frames, facts.structure, facts.salvageable) == (96_000, (), False)
    assert unfinished.read_bytes() == before


def test_a_salvaged_copy_never_replaces_a_file_and_a_whole_file_needs_none(
    unfinished: Path, good_file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["salvage", str(unfinished), "--to", str(unfinished)]) == 2
    assert "never replaces" in capsys.readouterr().err
    assert main(["salvage", str(good_file), "--to", str(tmp_path / "copy.wav")]) == 2
    assert not (tmp_path / "copy.wav").exists()
