"""The real site as processes: web server, worker and clock as people start them, on a folder of its own."""

import os
import secrets
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from pathlib import Path
from urllib.parse import urlsplit

import psycopg
from psycopg import sql

from intake.local import commands
from intake.local.house import environment_for, house, wait_until_ready
from intake.local.ports import ADDRESS, free_port
from intake.local.processes import Child, House

FOLDER = Path(__file__).resolve().parents[1]
SETTINGS = "intake.settings.local"
# Short, so that a test that kills a worker need not wait a minute for its work to be taken over.
LEASE_SECONDS = 6
SWEEP_SECONDS = 2
FIRST_PORT = 8400
# Kept from run to run: compiling the meters anew takes longer than most tests.
COMPILED = FOLDER / ".pytest_cache" / "numba"


class LiveSite:
    """A running site. `url` has no slash at its end; `environment` is what its processes were told."""

    def __init__(self, url: str, var_dir: Path, environment: dict[str, str], processes: House) -> None:
        self.url = url
        self.var_dir = var_dir
        self.environment = environment
        self._house = processes

    def manage(self, *arguments: str) -> str:
        """Run a management command beside the running site; returns what it printed. Fails with what it said wrong."""
        done = subprocess.run(
            commands.manage(*arguments), env=self.environment, cwd=FOLDER, capture_output=True, text=True, check=False
        )
        assert done.returncode == 0, f"{arguments} failed:\n{done.stdout}\n{done.stderr}"
        return done.stdout

    def shell(self, code: str) -> str:
        """Run Python inside the site, as `manage.py shell` does, without automatic imports; returns what it printed."""
        return self.manage("shell", "--no-imports", "--command", code)

    def mails(self) -> list[str]:
        """The raw text of every e-mail sent, oldest first."""
        paths = sorted((self.var_dir / "mail").glob("*"), key=lambda path: path.stat().st_mtime_ns)
        return [path.read_text(encoding="utf-8", errors="replace") for path in paths]

    @property
    def worker_group(self) -> int:
        """The process group of the worker and every process it started."""
        assert self._worker.process is not None
        return self._worker.process.pid

    def kill_worker(self) -> None:
        """kill -9 of the worker and every process it started; nothing starts it again until restart_worker."""
        self._worker.kill()
        while not self._worker.is_gone():
            time.sleep(0.01)

    def restart_worker(self) -> None:
        """Start the worker (again), and return once it listens."""
        if self._worker.is_running():
            self._worker.ask_to_end()
            assert self._worker.process is not None
            self._worker.process.wait(timeout=30)
        self._worker.start(self.environment, FOLDER)
        wait_until_ready(self._house, f"{self.url}/")

    def kill_web(self) -> None:
        """kill -9 of the web server; nothing starts it again until start_web."""
        self._web.kill()
        while not self._web.is_gone():
            time.sleep(0.01)

    def start_web(self) -> None:
        """Start the web server again, and return once it answers."""
        self._web.start(self.environment, FOLDER)
        wait_until_ready(self._house, f"{self.url}/")

    @property
    def web_group(self) -> int:
        """The process group of the web server and its workers."""
        assert self._web.process is not None
        return self._web.process.pid

    def log(self, name: str) -> str:
        """What "web", "worker" or "beat" has written."""
        return (self.var_dir / "logs" / f"{name}.log").read_text(errors="replace")

    @property
    def _worker(self) -> Child:
        return self._child("worker")

    @property
    def _web(self) -> Child:
        return self._child("web server")

    def _child(self, name: str) -> Child:
        return next(child for child in self._house.children if child.name == name)


@contextmanager
def running_site(*before: str, **more: str) -> Iterator[LiveSite]:
    """Start a site, with more environment if wanted, and leave nothing of it behind.

    `before` names management commands that fill it before its processes start.
    """
    database = os.environ.get("DATABASE_URL")
    with tempfile.TemporaryDirectory(prefix="intake-site-") as folder, database_beside(database) as own:
        var_dir = Path(folder)
        port = free_port(FIRST_PORT + secrets.randbelow(1000))
        told = {
            "DJANGO_SETTINGS_MODULE": SETTINGS,
            "JOB_LEASE_SECONDS": str(LEASE_SECONDS),
            "SWEEP_SECONDS": str(SWEEP_SECONDS),
            "NUMBA_CACHE_DIR": str(COMPILED),
            # Stories are about other things; tests/web/test_second_step.py starts a site that requires it.
            "STAFF_SECOND_STEP": "offered",
            **({"DATABASE_URL": own} if own else {}),
            # Tries that were counted elsewhere are not tries on this site, nor is work that others asked for.
            "CACHE_KEY_PREFIX": var_dir.name,
            "BROKER_KEY_PREFIX": var_dir.name,
            **more,
        }
        url = f"http://{ADDRESS}:{port}"
        environment = environment_for(var_dir=var_dir, site_url=url, more=told)
        processes = house(port=port, var_dir=var_dir, environment=environment, folder=FOLDER, say=print)
        site = LiveSite(url, var_dir, environment, processes)
        site.manage("migrate", "--verbosity=0")
        site.manage("collectstatic", "--no-input", "--verbosity=0")
        for command in before:
            site.manage(command)
        try:
            processes.start()
            wait_until_ready(processes, f"{url}/")
            yield site
        finally:
            processes.stop()


def database_beside(url: str | None):
    """A fresh PostgreSQL database on the server of `url`; without one, the site makes its own SQLite file."""
    return _fresh_postgresql(url) if url and url.startswith("postgres") else nullcontext(None)


@contextmanager
def _fresh_postgresql(url: str) -> Iterator[str]:
    name = f"intake_site_{secrets.token_hex(4)}"
    with psycopg.connect(url, autocommit=True) as server:
        server.execute(sql.SQL("CREATE DATABASE {}").format(sql.Identifier(name)))
    try:
        yield urlsplit(url)._replace(path=f"/{name}").geturl()
    finally:
        with psycopg.connect(url, autocommit=True) as server:
            server.execute(sql.SQL("DROP DATABASE {} WITH (FORCE)").format(sql.Identifier(name)))
