"""`make start` and `make demo` below make: the whole site started, looked after and stopped, with real processes."""

import json
import os
import signal
import socket
import sqlite3
import time
import urllib.request
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from intake.local.ports import free_port
from tests.local.alone import Terminal, manage, processes_mentioning

pytestmark = pytest.mark.processes

LOCAL = {"DJANGO_SETTINGS_MODULE": "intake.settings.local"}
COORDINATOR = {
    "FIRST_COORDINATOR_NAME": "Corin Ashgrove",
    "FIRST_COORDINATOR_EMAIL": "corin.ashgrove@example.org",
    "FIRST_COORDINATOR_PASSWORD": "north-landing-bell",
}


@pytest.fixture
def port() -> int:
    return free_port(8600)


@pytest.fixture
def var_dir(tmp_path: Path) -> Path:
    return tmp_path / "var"


@pytest.fixture
def taken_port() -> Iterator[int]:
    with socket.socket() as other:
        other.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        other.bind(("127.0.0.1", free_port(8600)))
        other.listen()
        yield other.getsockname()[1]


def health(url: str) -> dict:
    with urllib.request.urlopen(f"{url}health/", timeout=5) as answer:
        return json.load(answer)


def users(var_dir: Path) -> list[tuple[str, str]]:
    with closing(sqlite3.connect(var_dir / "intake.sqlite3")) as database:
        return database.execute("SELECT email, role FROM accounts_user").fetchall()


def address_in(printed: str) -> str:
    return printed.partition("The site is ready: ")[2].split()[0]


def leaves_nothing(var_dir: Path, url: str) -> None:
    assert processes_mentioning({"VAR_DIR": str(var_dir)}) == []
    with pytest.raises(OSError, match="refused"):
        health(url)


def test_it_starts_stops_on_ctrl_c_and_keeps_what_was_there(var_dir: Path, port: int) -> None:
    for start in (1, 2):
        with Terminal(var_dir, port, **LOCAL, **COORDINATOR) as terminal:
            url = address_in(terminal.wait_for("Press Ctrl-C to stop."))
            assert health(url) == {"status": "ok"}
            assert len(processes_mentioning({"VAR_DIR": str(var_dir)})) >= 6, "itself, web, worker, beat and theirs"
            assert terminal.end(signal.SIGINT) == 0, terminal.printed()
            assert "Gathered style sheets" in terminal.printed() or start == 2
        leaves_nothing(var_dir, url)
        assert users(var_dir) == [(COORDINATOR["FIRST_COORDINATOR_EMAIL"], "coordinator")]


def test_a_taken_port_is_told_and_links_lead_to_the_one_used(var_dir: Path, taken_port: int) -> None:
    with Terminal(var_dir, taken_port, **LOCAL, **COORDINATOR) as terminal:
        printed = terminal.wait_for("Press Ctrl-C to stop.")
        url = address_in(printed)
        assert f"Port {taken_port} is taken" in printed
        assert url != f"http://127.0.0.1:{taken_port}/"
        assert health(url) == {"status": "ok"}
        assert processes_mentioning({"VAR_DIR": str(var_dir), "SITE_URL": url.rstrip("/")})
        assert terminal.end(signal.SIGTERM) == 0, "an ordered stop is no failure"
    leaves_nothing(var_dir, url)


def test_a_web_server_that_dies_is_started_again_and_a_second_start_is_refused(var_dir: Path, port: int) -> None:
    with Terminal(var_dir, port, **LOCAL, **COORDINATOR) as terminal:
        url = address_in(terminal.wait_for("Press Ctrl-C to stop."))
        os.kill(_process_id(var_dir, "gunicorn"), signal.SIGKILL)
        second = manage("run_local", VAR_DIR=str(var_dir), **LOCAL, **COORDINATOR)
        assert second.returncode != 0
        assert f"is running already ({url})" in second.stderr
        terminal.wait_for("The web server stopped (signal SIGKILL) and is started again in 1 s.")
        deadline = time.monotonic() + 60
        while not _answers(url):
            assert time.monotonic() < deadline, terminal.printed()
            time.sleep(0.2)
        assert terminal.end(signal.SIGHUP) == 0, "a closed terminal is no failure"
    leaves_nothing(var_dir, url)


def test_when_it_is_killed_outright_its_processes_end_too(var_dir: Path, port: int) -> None:
    with Terminal(var_dir, port, **LOCAL, **COORDINATOR) as terminal:
        url = address_in(terminal.wait_for("Press Ctrl-C to stop."))
        terminal.end(signal.SIGKILL)
    deadline = time.monotonic() + 60
    while processes_mentioning({"VAR_DIR": str(var_dir)}):
        assert time.monotonic() < deadline, processes_mentioning({"VAR_DIR": str(var_dir)})
        time.sleep(0.2)
    leaves_nothing(var_dir, url)


def test_an_empty_site_without_a_terminal_asks_for_its_first_coordinator_and_ends(var_dir: Path) -> None:
    ended = manage("run_local", VAR_DIR=str(var_dir), **LOCAL)
    assert ended.returncode != 0
    assert "FIRST_COORDINATOR_EMAIL" in ended.stderr
    assert "Traceback" not in ended.stderr


def test_a_process_that_cannot_start_shows_the_end_of_its_log(var_dir: Path, port: int) -> None:
    ended = manage(
        "run_local", "--port", str(port), VAR_DIR=str(var_dir), CELERY_BROKER_URL="nothing://x", **LOCAL, **COORDINATOR
    )
    assert ended.returncode != 0
    assert " could not start. The end of " in ended.stderr
    assert "No such transport: nothing" in ended.stderr
    assert processes_mentioning({"VAR_DIR": str(var_dir)}) == []


def test_only_the_demo_can_be_started_over(var_dir: Path) -> None:
    var_dir.mkdir()
    (var_dir / "precious").write_text("kept")
    ended = manage("run_local", "--reset", VAR_DIR=str(var_dir), **LOCAL)
    assert ended.returncode != 0
    assert "Only the demo can be started over." in ended.stderr
    assert (var_dir / "precious").read_text() == "kept"


def _answers(url: str) -> bool:
    try:
        return health(url) == {"status": "ok"}
    except OSError:
        return False


def _process_id(var_dir: Path, word: str) -> int:
    """The lowest process id of this site with a word in its command line: the one above its own children."""
    told = f"VAR_DIR={var_dir}".encode()
    return min(
        int(folder.name)
        for folder in Path("/proc").glob("[0-9]*")
        if told in _read(folder / "environ") and word.encode() in _read(folder / "cmdline")
    )


def _read(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except (FileNotFoundError, ProcessLookupError, PermissionError):
        return b""
