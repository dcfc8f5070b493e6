"""The health checks of the containers, asked of the running site."""

import subprocess
import sys
import time
from pathlib import Path
from urllib.parse import urlsplit

import pytest

from intake.local import commands
from intake.local.ports import ADDRESS, free_port
from tests.local.alone import FOLDER, environment, manage
from tests.local.test_settings import PRODUCTION, REQUIRED
from tests.site import LiveSite

pytestmark = pytest.mark.processes


def ask(site: LiveSite, *arguments: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "django", "healthy", *arguments]
    return subprocess.run(command, env=site.environment, cwd=FOLDER, capture_output=True, text=True, check=False)


def test_a_running_house_is_well(live_site: LiveSite) -> None:
    assert "well" in live_site.manage("healthy", "web", "--port", str(urlsplit(live_site.url).port))
    assert "well" in live_site.manage("healthy", "beat")
    worker = next(word for word in live_site.log("worker").split() if "@" in word and word.startswith("house-"))
    assert "well" in live_site.manage("healthy", "worker", "--name", worker.partition("@")[0])


def test_what_does_not_run_is_not_well(live_site: LiveSite) -> None:
    for arguments in (["web", "--port", "1"], ["worker", "--name", "nobody"]):
        asked = ask(live_site, *arguments)
        assert asked.returncode == 1
        assert "Traceback" not in asked.stderr
        assert "does not answer" in asked.stderr


def test_a_server_that_insists_on_tls_and_its_own_name_is_well(tmp_path: Path) -> None:
    port = free_port(8700)
    told = {
        **PRODUCTION,
        **REQUIRED,
        "VAR_DIR": str(tmp_path),
        "DATABASE_URL": f"sqlite:///{tmp_path / 'site.sqlite3'}",
    }
    command = commands.web(f"{ADDRESS}:{port}")
    with subprocess.Popen(command, cwd=FOLDER, env=environment(**told), stderr=subprocess.DEVNULL) as web:
        deadline = time.monotonic() + 60
        while (asked := manage("healthy", "web", "--port", str(port), **told)).returncode:
            assert time.monotonic() < deadline, asked.stderr
        web.terminate()
    assert "well" in asked.stdout
