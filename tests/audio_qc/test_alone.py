"""audio_qc works in a folder of its own, where there is nothing of the site; its public functions are typed."""

import ast
import inspect
import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import audio_qc

PACKAGE = Path(audio_qc.__file__).parent
BLOCKED = """
import sys
class Blocked:
    def find_spec(self, name, path=None, target=None):
        if name.partition(".")[0] in ("django", "celery", "intake", "tests"):
            raise ImportError(name + " is not on this computer")
sys.meta_path.insert(0, Blocked())
sys.path.insert(0, sys.argv.pop(1))
"""
RUN = BLOCKED + "import runpy\nrunpy.run_module('audio_qc', run_name='__main__')"
LOAD_ALL = BLOCKED + (
    "import importlib, pkgutil, audio_qc\n"
    "found = pkgutil.walk_packages(audio_qc.__path__, 'audio_qc.')\n"
    "names = [one.name for one in found if '__main__' not in one.name]\n"
    "for name in names:\n    importlib.import_module(name)\n"
    "print(len(names), audio_qc.__file__)"
)


@pytest.fixture
def alone(tmp_path: Path, good_file: Path) -> Path:
    """Return a folder that holds the package, compiled code included, and nothing else."""
    audio_qc.measure(good_file)
    shutil.copytree(PACKAGE, tmp_path / "alone" / "audio_qc")
    return tmp_path / "alone"


def isolated(code: str, folder: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    """Run code in a Python that takes nothing from this folder, the environment or the user's own packages."""
    return subprocess.run(
        [sys.executable, "-I", "-c", code, str(folder), *arguments],
        cwd=folder, capture_output=True, text=True, check=False, timeout=300,
    )  # fmt: skip


def test_the_package_alone_measures_a_file(alone: Path, good_file: Path) -> None:
    done = isolated(RUN, alone, str(good_file), "--json", "--html", "report.html")
    assert (done.returncode, done.stderr) == (0, "")
    assert json.loads(done.stdout)["verdict"]["standing"] == "good"
    assert (alone / "report.html").read_text(encoding="utf-8").startswith("<!DOCTYPE html>")


def test_what_the_readme_shows_works(alone: Path, good_file: Path) -> None:
    shutil.copy(good_file, alone / "interview.wav")
    shown = (PACKAGE / "README.md").read_text(encoding="utf-8").partition("```python\n")[2].partition("```")[0]
    done = isolated(BLOCKED + shown, alone)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith("good Clear recording, nothing to mend. -")


def test_every_module_of_the_package_alone_can_be_imported(alone: Path) -> None:
    done = isolated(LOAD_ALL, alone)
    assert done.returncode == 0, done.stderr
    count, where = done.stdout.split(maxsplit=1)
    assert int(count) > 30
    assert Path(where.strip()).is_relative_to(alone)


def test_the_site_is_really_out_of_reach_there(alone: Path) -> None:
    assert "django is not on this computer" in isolated(BLOCKED + "import django", alone).stderr


def test_requirements_name_the_packages_that_are_imported_and_no_other() -> None:
    imported = set()
    for path in PACKAGE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                imported |= {alias.name.partition(".")[0] for alias in node.names}
            elif isinstance(node, ast.ImportFrom):
                imported.add((node.module or "").partition(".")[0])
    lines = (PACKAGE / "requirements.txt").read_text(encoding="utf-8").splitlines()
    required = {line.partition(">=")[0] for line in lines if not line.startswith("#")}
    assert required == imported - set(sys.stdlib_module_names) - {"audio_qc"}
    assert all(">=" in line for line in lines if not line.startswith("#"))


def test_every_public_function_says_what_it_takes_and_gives() -> None:
    public = [getattr(audio_qc, name) for name in audio_qc.__all__]
    functions = [one for one in public if inspect.isfunction(one)]
    functions += [method for one in public if inspect.isclass(one) for _, method in inspect.getmembers(one, callable)
                  if inspect.isfunction(method) and not method.__name__.startswith("_")]  # fmt: skip
    assert {audio_qc.measure, audio_qc.report, audio_qc.Report.to_dict} <= set(functions)
    for function in functions:
        signature = inspect.signature(function)
        assert signature.return_annotation is not inspect.Signature.empty, function
        takes = [one for name, one in signature.parameters.items() if name != "self"]
        assert all(one.annotation is not inspect.Parameter.empty for one in takes), function
    assert (PACKAGE / "py.typed").is_file()
