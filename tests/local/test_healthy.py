"""The health checks of the containers, asked of the running site."""

import subprocess
import sys
from urllib.parse import urlsplit

import pytest

from tests.local.alone import FOLDER
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
