"""What `make` says when something is missing, tried with a PATH on which it is missing."""

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.conftest import needs
from tests.local.alone import FOLDER, environment

pytestmark = pytest.mark.processes

# What every Debian and Ubuntu has: the shell and its small tools.
BASICS = ("sh", "rm", "touch", "mkdir")


@pytest.fixture
def clone(tmp_path: Path) -> Path:
    """A folder with the Makefile and an empty bin/ folder, which is the whole PATH."""
    folder = tmp_path / "clone"
    (folder / "bin").mkdir(parents=True)
    shutil.copy(FOLDER / "Makefile", folder)
    for name in BASICS:
        (folder / "bin" / name).symlink_to(shutil.which(name))
    return folder


def program(clone: Path, name: str, script: str) -> None:
    path = clone / "bin" / name
    path.write_text(f"#!/bin/sh\n{script}\n")
    path.chmod(0o755)


def make(clone: Path, target: str) -> subprocess.CompletedProcess[str]:
    found = shutil.which("make")
    needs("make", found)
    command = [found, target]
    told = environment(PATH=str(clone / "bin"))
    return subprocess.run(command, cwd=clone, env=told, capture_output=True, text=True, timeout=120, check=False)


def test_a_missing_python_is_named(clone: Path) -> None:
    made = make(clone, ".venv/.made")
    assert made.returncode != 0
    assert "Python 3.11 or newer is missing." in made.stdout
    assert "apt-get install python3 python3-venv" in made.stdout


def test_an_old_python_is_not_enough(clone: Path) -> None:
    program(clone, "python3", "exit 1")  # what it answers when asked whether it is 3.11 or newer
    made = make(clone, ".venv/.made")
    assert made.returncode != 0
    assert "Python 3.11 or newer is missing." in made.stdout


def test_a_missing_venv_module_is_named_with_its_package(clone: Path) -> None:
    program(clone, "python3", f'case "$2" in *ensurepip*) exit 1;; esac; exec {sys.executable} "$@"')
    made = make(clone, ".venv/.made")
    assert made.returncode != 0
    package = f"python{sys.version_info.major}.{sys.version_info.minor}-venv"
    assert (
        f"Python's venv module is missing. Install it, on Debian or Ubuntu with: apt-get install {package}"
        in made.stdout
    )


def test_a_newer_python_beside_an_old_one_is_found(clone: Path) -> None:
    program(clone, "python3", "exit 1")
    program(clone, "python3.12", f'exec {sys.executable} "$@"')
    made = make(clone, ".venv/.made")
    assert made.returncode == 0, made.stderr
    assert "Making a place for the Python packages" in made.stdout
    assert (clone / ".venv" / "bin" / "python").exists()
    again = make(clone, ".venv/.made")
    assert "Making" not in again.stdout, "a second run has nothing to do"


def test_packages_that_cannot_be_fetched_are_told_in_words(clone: Path) -> None:
    (clone / ".venv" / "bin").mkdir(parents=True)
    (clone / ".venv" / ".made").touch()
    (clone / "requirements.txt").touch()
    (clone / ".venv" / "bin" / "python").symlink_to(shutil.which("false"))
    made = make(clone, ".venv/.packages")
    assert made.returncode != 0
    assert "The Python packages could not be installed." in made.stdout
    assert not (clone / ".venv" / ".packages").exists(), "what failed is tried again"


def test_help_names_every_command(clone: Path) -> None:
    told = make(clone, "help").stdout
    makefile = (FOLDER / "Makefile").read_text()
    declared = next(line for line in makefile.splitlines() if line.startswith(".PHONY:")).split()[1:]
    assert [name for name in declared if name != "help" and f"make {name}" not in told] == []
