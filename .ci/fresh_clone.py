"""In a fresh clone: `make demo`, a signed-in page, Ctrl-C; then all of it again, which must be quick.

Usage: python3 .ci/fresh_clone.py CLONE PORT. Needs nothing but Python's own library; raises on failure.
"""

import http.cookiejar
import os
import re
import signal
import socket
import subprocess
import sys
import time
import urllib.parse
import urllib.request
from pathlib import Path

FIRST_START_SECONDS = 900  # all packages may have to be fetched
SECOND_START_SECONDS = 45
STOP_SECONDS = 40
READY = re.compile(r"^The site is ready: (http://127\.0\.0\.1:(\d+)/)$", re.MULTILINE)
VOLUNTEER = re.compile(r"^  volunteer +(\S+@\S+)", re.MULTILINE)
PASSWORD = re.compile(r"the password is (\S+) for all")


def main(clone: Path, port: str) -> None:
    for limit in (FIRST_START_SECONDS, SECOND_START_SECONDS):
        started = time.monotonic()
        demo = start(clone, port)
        try:
            told = wait_for_address(demo, clone, limit)
            print(f"`make demo` answered after {time.monotonic() - started:.0f} s.")
            url, chosen = READY.search(told).groups()
            page = signed_in_page(url, VOLUNTEER.search(told)[1], PASSWORD.search(told)[1])
            assert "Marit Oskarsen" in page, f"the volunteer's page does not show the demo's interviews:\n{page}"
        finally:
            stop(demo)
        leaves_nothing(clone, int(chosen))
    print("The fresh clone ran twice, and left no process and no port behind.")


def start(clone: Path, port: str) -> subprocess.Popen:
    with log_of(clone).open("w") as log:
        return subprocess.Popen(
            ["make", "demo", f"PORT={port}"],
            cwd=clone,
            stdin=subprocess.DEVNULL,
            stdout=log,
            stderr=subprocess.STDOUT,
            start_new_session=True,
        )


def log_of(clone: Path) -> Path:
    return clone.with_suffix(".log")


def wait_for_address(demo: subprocess.Popen, clone: Path, limit: float) -> str:
    deadline = time.monotonic() + limit
    while True:
        told = log_of(clone).read_text()
        if "Press Ctrl-C to stop." in told:
            return told
        assert demo.poll() is None, f"`make demo` ended with {demo.returncode}:\n{told}"
        assert time.monotonic() < deadline, f"`make demo` was not ready after {limit} s:\n{told}"
        time.sleep(0.2)


def signed_in_page(url: str, email: str, password: str) -> str:
    """Sign in through the form as a browser does, and return the page that follows."""
    jar = http.cookiejar.CookieJar()
    opener = urllib.request.build_opener(urllib.request.ProxyHandler({}), urllib.request.HTTPCookieProcessor(jar))
    form = opener.open(f"{url}account/login/", timeout=30).read().decode()
    token = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', form)[1]
    fields = urllib.parse.urlencode({"login": email, "password": password, "csrfmiddlewaretoken": token}).encode()
    with opener.open(f"{url}account/login/", data=fields, timeout=30) as answer:
        assert urllib.parse.urlsplit(answer.url).path == "/interviews/", f"signing in led to {answer.url}"
        return answer.read().decode()


def stop(demo: subprocess.Popen) -> None:
    """Ctrl-C at a terminal: the whole foreground group is interrupted."""
    if demo.poll() is None:
        os.killpg(demo.pid, signal.SIGINT)
    status = demo.wait(timeout=STOP_SECONDS)
    # make tells its own interruption in one of these ways, whatever the command below it returned.
    assert status in (0, 2, 130, -signal.SIGINT), f"`make demo` ended with {status}"


def leaves_nothing(clone: Path, port: int) -> None:
    running = {path.name: command(path) for path in Path("/proc").glob("[0-9]*") if int(path.name) != os.getpid()}
    left = [f"{number}: {line}" for number, line in running.items() if str(clone) in line]
    assert not left, "still running:\n" + "\n".join(left)
    with socket.socket() as probe:
        assert probe.connect_ex(("127.0.0.1", port)) != 0, f"something still listens on port {port}"


def command(process: Path) -> str:
    try:
        return (process / "cmdline").read_bytes().replace(b"\0", b" ").decode(errors="replace")
    except (FileNotFoundError, ProcessLookupError):
        return ""  # it ended while we looked


if __name__ == "__main__":
    main(Path(sys.argv[1]).resolve(), sys.argv[2])
