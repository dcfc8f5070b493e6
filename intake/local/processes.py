"""Child processes: started together, watched, started again when they die, and stopped so that nothing is left."""

import ctypes
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

STOP_WITHIN_SECONDS = 10.0
LONGEST_PAUSE_SECONDS = 60.0
# A child that ran for so long was well: its next pause is short again.
WELL_AFTER_SECONDS = 60.0

PROC = Path("/proc")

Say = Callable[[str], None]


@dataclass
class Child:
    """One program in a process group of its own, its output in a log file. Times are seconds of the monotonic clock."""

    name: str
    command: Sequence[str]
    log: Path
    process: subprocess.Popen | None = None
    started_at: float = 0.0
    deaths: int = 0
    start_again_at: float | None = None
    log_from: int = 0

    def start(self, environment: Mapping[str, str], folder: Path) -> None:
        with self.log.open("ab") as log:
            self.log_from = log.tell()
            self.process = subprocess.Popen(  # noqa: S603  our own command lines (commands.py)
                self.command,
                env=dict(environment),
                cwd=folder,
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=subprocess.STDOUT,
                start_new_session=True,
                preexec_fn=_die_with_parent,  # noqa: PLW1509  one system call, no lock taken
            )
        self.started_at, self.start_again_at = time.monotonic(), None

    def is_running(self) -> bool:
        return self.process is not None and self.process.poll() is None

    def ask_to_end(self) -> None:
        """The program alone is asked: it ends its own children once their work is done."""
        if self.process is not None and self.is_running():
            self.process.terminate()

    def kill(self) -> None:
        """The program and every process that it started."""
        if self.process is not None and not self.is_gone():
            os.killpg(self.process.pid, signal.SIGKILL)

    def is_gone(self) -> bool:
        """Whether neither the program nor anything that it started is left."""
        return not self.is_running() and (self.process is None or not group_lives(self.process.pid))

    def said(self) -> str:
        """Its output since it was last started."""
        return self.log.read_bytes()[self.log_from :].decode(errors="replace")

    def last_lines(self, count: int = 15) -> str:
        return "\n".join(f"    {line}" for line in self.said().splitlines()[-count:])


@dataclass
class House:
    """The children of one site. `say` tells the person at the terminal, in sentences."""

    children: list[Child]
    environment: Mapping[str, str]
    folder: Path
    say: Say

    def start(self) -> None:
        for child in self.children:
            child.start(self.environment, self.folder)

    def fallen(self) -> Child | None:
        """A child that is not running although it should."""
        return next((child for child in self.children if not child.is_running()), None)

    def look_after(self) -> None:
        """Start again what has died, after a pause that grows with every death."""
        for child in self.children:
            if child.is_running():
                continue
            if child.start_again_at is None:
                self._note_death(child)
            elif time.monotonic() >= child.start_again_at:
                child.start(self.environment, self.folder)

    def stop(self, within_seconds: float = STOP_WITHIN_SECONDS) -> None:
        """Ask every child to end, wait, then kill what is left of its group. Safe to repeat."""
        for child in self.children:
            child.ask_to_end()
        deadline = time.monotonic() + within_seconds
        while not self._all_gone() and time.monotonic() < deadline:
            time.sleep(0.05)
        self.end_now()

    def end_now(self) -> None:
        """Kill whatever is left, and wait until it is gone: the kernel ends a killed process in a moment."""
        for child in self.children:
            child.kill()
        while not self._all_gone():
            time.sleep(0.02)

    def _all_gone(self) -> bool:
        return all(child.is_gone() for child in self.children)

    def _note_death(self, child: Child) -> None:
        assert child.process is not None
        child.kill()  # what a dead program leaves behind must not go on beside its successor
        lived = time.monotonic() - child.started_at
        child.deaths = 1 if lived >= WELL_AFTER_SECONDS else child.deaths + 1
        pause = min(2.0 ** (child.deaths - 1), LONGEST_PAUSE_SECONDS)
        child.start_again_at = time.monotonic() + pause
        self.say(
            f"The {child.name} stopped ({_how(child.process.returncode)}) and is started again in {pause:g} s. "
            f"What it said is in {child.log}."
        )


def group_lives(group: int) -> bool:
    """Whether any process of a group still runs. Ended ones that nobody has waited for yet are not counted."""
    try:
        os.killpg(group, 0)
    except ProcessLookupError:
        return False
    return any(number == group and state != "Z" for state, number in _states_and_groups()) if PROC.is_dir() else True


def _states_and_groups() -> Iterator[tuple[str, int]]:
    """State and process group of every process, by proc(5)."""
    for folder in PROC.glob("[0-9]*"):
        try:
            stat = (folder / "stat").read_text()
        except (FileNotFoundError, ProcessLookupError):
            continue  # it ended while we looked
        state, _parent, group = stat.rpartition(")")[2].split()[:3]  # a name may hold anything, brackets too
        yield state, int(group)


def _how(code: int) -> str:
    return f"exit code {code}" if code >= 0 else f"signal {signal.Signals(-code).name}"


_PR_SET_PDEATHSIG = 1  # <linux/prctl.h>
_LIBC = ctypes.CDLL(None) if sys.platform == "linux" else None


def _die_with_parent() -> None:
    """Runs in the child: where the kernel can (Linux), it asks the child to end when its parent is killed outright."""
    if _LIBC is not None:
        _LIBC.prctl(_PR_SET_PDEATHSIG, signal.SIGTERM)
