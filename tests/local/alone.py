"""Helpers for tests that start this project's commands the way a person does: in an environment of their own."""

import os
import subprocess
import sys
import time
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

FOLDER = Path(__file__).resolve().parents[2]
# What the run around the tests may have set, and what a person at a terminal has not.
NOT_PASSED_ON = (
    "CACHE_URL",
    "CELERY_BROKER_URL",
    "DATABASE_URL",
    "DJANGO_ALLOW_ASYNC_UNSAFE",
    "DJANGO_SETTINGS_MODULE",
    "MAKEFLAGS",
    "MAKELEVEL",
    "NUMBA_CACHE_DIR",
    "SITE_URL",
    "VAR_DIR",
)


def environment(**more: str) -> dict[str, str]:
    """This process's environment without settings of the run, and with `more`."""
    return {name: value for name, value in os.environ.items() if name not in NOT_PASSED_ON} | more


def manage(*arguments: str, timeout: float = 120, **more: str) -> subprocess.CompletedProcess[str]:
    """Run a management command to its end; no terminal to ask at."""
    return subprocess.run(
        [sys.executable, "manage.py", *arguments],
        cwd=FOLDER,
        env=environment(**more),
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=timeout,
        check=False,
    )


class Terminal:
    """`manage.py run_local` in a terminal of its own: what it prints, and the signals that it is sent."""

    def __init__(self, var_dir: Path, port: int, *arguments: str, **more: str) -> None:
        self.var_dir = var_dir
        self._printed = var_dir.with_suffix(f".{time.monotonic_ns()}.txt")
        with self._printed.open("w") as printed:
            self.process = subprocess.Popen(
                [sys.executable, "manage.py", "run_local", "--port", str(port), *arguments],
                cwd=FOLDER,
                env=environment(VAR_DIR=str(var_dir), **more),
                stdin=subprocess.DEVNULL,
                stdout=printed,
                stderr=subprocess.STDOUT,
                start_new_session=True,
            )

    def __enter__(self) -> "Terminal":
        return self

    def __exit__(self, *_: object) -> None:
        """Whatever the test did, nothing of it stays: the processes of the site end with the one above them."""
        self.process.kill()
        self.process.wait()

    def printed(self) -> str:
        return self._printed.read_text()

    def wait_for(self, words: str, seconds: float = 120) -> str:
        deadline = time.monotonic() + seconds
        while words not in self.printed():
            assert self.process.poll() is None, f"it ended with {self.process.returncode}:\n{self.printed()}"
            assert time.monotonic() < deadline, f"“{words}” was not printed within {seconds} s:\n{self.printed()}"
            time.sleep(0.1)
        return self.printed()

    def end(self, number: int) -> int:
        """Send a signal, wait, and return the exit status."""
        self.process.send_signal(number)
        return self.process.wait(timeout=60)


def processes_mentioning(mapping: Mapping[str, str]) -> list[str]:
    """Command lines of all processes in whose environment every one of these values stands."""
    wanted = {f"{name}={value}".encode() for name, value in mapping.items()}
    found = []
    for folder in Path("/proc").glob("[0-9]*"):
        # It may end while we look, or belong to somebody else.
        with suppress(FileNotFoundError, ProcessLookupError, PermissionError):
            if wanted <= set((folder / "environ").read_bytes().split(b"\0")):
                found.append((folder / "cmdline").read_bytes().replace(b"\0", b" ").decode())
    return found
