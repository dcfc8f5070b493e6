"""The whole house on one computer: which processes, in which environment, on which folder, one at a time."""

import fcntl
import json
import os
import shutil
import ssl
import time
import urllib.error
import urllib.request
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import TextIO

from intake.local import commands
from intake.local.certificates import Certificate
from intake.local.ports import ADDRESS, EVERYWHERE
from intake.local.processes import Child, House, Say

READY_WITHIN_SECONDS = 240.0
LOG_STARTS_ANEW_AT_BYTES = 10_000_000


class NotReady(Exception):
    """The site did not come up; the message tells a person why, with the last lines of the log."""


class AlreadyRunning(Exception):
    """Another start runs the site on the same folder; the message says where."""


def environment_for(*, var_dir: Path, site_url: str, more: Mapping[str, str] | None = None) -> dict[str, str]:
    """What the processes of one site are told: its folder, its address for links, and where compiled code is kept."""
    return {
        **os.environ,
        "NUMBA_CACHE_DIR": str(var_dir / "numba"),  # the package's own folder may be read-only
        **(more or {}),
        "VAR_DIR": str(var_dir),
        "SITE_URL": site_url,
        "PYTHONUNBUFFERED": "1",
    }


def house(
    *,
    port: int,
    var_dir: Path,
    environment: Mapping[str, str],
    folder: Path,
    say: Say,
    certificate: Certificate | None = None,
) -> House:
    """Web server, worker and clock, not yet started. With a certificate, the local network reaches it over HTTPS."""
    logs = var_dir / "logs"
    logs.mkdir(parents=True, exist_ok=True)
    web = (
        commands.web(f"{EVERYWHERE}:{port}", str(certificate.certificate), str(certificate.key))
        if certificate
        else commands.web(f"{ADDRESS}:{port}")
    )
    lines = {
        "web server": ("web", web),
        "worker": ("worker", commands.worker(f"house-{os.getpid()}")),
        "clock": ("beat", commands.beat()),
    }
    children = [Child(name, line, _log(logs / f"{log}.log")) for name, (log, line) in lines.items()]
    return House(children, environment, folder, say)


def wait_until_ready(
    running: House, url: str, within_seconds: float = READY_WITHIN_SECONDS, *, authority: Path | None = None
) -> None:
    """Return once the site answers and its worker listens. Raises NotReady when a process falls, or after too long."""
    deadline = time.monotonic() + within_seconds
    while not (_answers(url, authority) and _listens(running)):
        fallen = running.fallen()
        if fallen:
            raise NotReady(f"The {fallen.name} could not start. The end of {fallen.log}:\n{fallen.last_lines()}")
        if time.monotonic() > deadline:
            told = "\n".join(f"{child.log}:\n{child.last_lines(5)}" for child in running.children)
            raise NotReady(f"The site did not answer at {url} within {within_seconds:g} seconds.\n{told}")
        time.sleep(0.1)


@contextmanager
def only_one(var_dir: Path) -> Iterator[TextIO]:
    """Hold the folder for this start; the file given tells whoever comes second where. Raises AlreadyRunning."""
    with (var_dir / "running").open("a+") as file:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            file.seek(0)
            where = file.read().strip() or "getting ready"
            raise AlreadyRunning(f"The site on {var_dir} is running already ({where}). Stop it there first.") from error
        file.truncate(0)
        yield file


def empty(var_dir: Path) -> None:
    """Take away everything in a site's folder. Folders stay, empty; so does the file that says who runs there."""
    for path in var_dir.iterdir():
        if path.is_dir():
            shutil.rmtree(path)
            path.mkdir()
        elif path.name != "running":
            path.unlink()


def _log(path: Path) -> Path:
    """The log is kept from start to start until it is large; then one older log is kept beside it."""
    if path.exists() and path.stat().st_size > LOG_STARTS_ANEW_AT_BYTES:
        path.replace(path.with_suffix(".older.log"))
    return path


def _answers(url: str, authority: Path | None) -> bool:
    # Never through a proxy: the address is this computer.
    opener = urllib.request.build_opener(
        urllib.request.ProxyHandler({}),
        urllib.request.HTTPSHandler(context=ssl.create_default_context(cafile=authority)),
    )
    try:
        with opener.open(f"{url}health/", timeout=5) as answer:
            return json.load(answer) == {"status": "ok"}
    except (urllib.error.URLError, ConnectionError, TimeoutError):
        return False


def _listens(running: House) -> bool:
    """Whether the worker has said that it is ready."""
    return all(" ready." in child.said() for child in running.children if child.name == "worker")
