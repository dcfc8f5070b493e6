"""Children are watched, started again and ended with everything that they started; tried on small real programs."""

import os
import sys
import time
from pathlib import Path

import pytest

from intake.local.processes import Child, House, group_lives

pytestmark = pytest.mark.processes

# Starts a child of its own, says both numbers, and sleeps; with "deaf" both ignore a request to end.
PROGRAM = """
import os, signal, subprocess, sys, time
if "deaf" in sys.argv:
    signal.signal(signal.SIGTERM, signal.SIG_IGN)
inner = subprocess.Popen([sys.executable, "-c", "import time; time.sleep(600)"])
print(os.getpid(), inner.pid, flush=True)
time.sleep(600)
"""


def a_house(tmp_path: Path, *commands: list[str]) -> tuple[House, list[str]]:
    told: list[str] = []
    children = [Child(f"program {at}", command, tmp_path / f"{at}.log") for at, command in enumerate(commands)]
    return House(children, os.environ, tmp_path, told.append), told


def wait_until(holds, what: str) -> None:
    deadline = time.monotonic() + 20
    while not holds():
        assert time.monotonic() < deadline, f"not within 20 s: {what}"
        time.sleep(0.02)


def pids_said(child: Child) -> list[int]:
    wait_until(lambda: child.said().endswith("\n"), "the program says its numbers")
    return [int(word) for word in child.said().split()]


def lives(pid: int) -> bool:
    stat = Path(f"/proc/{pid}/stat")
    return stat.exists() and stat.read_text().rpartition(")")[2].split()[0] != "Z"


@pytest.mark.parametrize("manner", ["polite", "deaf"])
def test_stopping_ends_a_program_and_what_it_started(tmp_path: Path, manner: str) -> None:
    house, _ = a_house(tmp_path, [sys.executable, "-c", PROGRAM, manner])
    house.start()
    pids = pids_said(house.children[0])
    assert all(map(lives, pids))
    house.stop(within_seconds=1.0)
    assert not any(map(lives, pids))
    assert house.children[0].is_gone()


def test_a_program_that_dies_is_started_again_after_pauses_that_grow(tmp_path: Path) -> None:
    house, told = a_house(tmp_path, [sys.executable, "-c", "raise SystemExit(3)"])
    house.start()

    def twice_dead() -> bool:
        house.look_after()
        return len(told) == 2

    wait_until(twice_dead, "it died twice")
    house.stop()
    assert "stopped (exit code 3) and is started again in 1 s." in told[0]
    assert "started again in 2 s." in told[1]


def test_what_a_dead_program_leaves_behind_ends_before_its_successor_starts(tmp_path: Path) -> None:
    house, _ = a_house(tmp_path, [sys.executable, "-c", PROGRAM])
    house.start()
    child = house.children[0]
    outer, inner = pids_said(child)
    assert child.process is not None
    child.process.kill()
    wait_until(lambda: not lives(outer), "the program is dead")
    assert lives(inner), "this test means nothing if its child died with it"
    house.look_after()
    wait_until(lambda: not lives(inner), "what it left behind is dead")
    house.stop()


def test_a_group_of_ended_processes_does_not_live() -> None:
    pid = os.fork()
    if pid == 0:
        os.setpgid(0, 0)
        os._exit(0)
    wait_until(lambda: Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] == "Z", "it has ended")
    assert not group_lives(pid), "nobody has waited for it, yet it does not run"
    os.waitpid(pid, 0)


def test_the_log_tells_of_this_start_only(tmp_path: Path) -> None:
    house, _ = a_house(tmp_path, [sys.executable, "-c", "print('here')"])
    (tmp_path / "0.log").write_text("an earlier start\n")
    house.start()
    child = house.children[0]
    wait_until(lambda: not child.is_running(), "it has ended")
    assert child.said() == "here\n"
    assert (tmp_path / "0.log").read_text() == "an earlier start\nhere\n"
