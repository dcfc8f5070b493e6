"""A process that is killed outright while it mends leaves nothing that the next one could not end."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.files.damage import flip

pytestmark = pytest.mark.processes
SIZE = 24 * 1024 * 1024
ROOT = Path(__file__).resolve().parents[2]
PREPARE = f"""
from uuid import UUID
from pathlib import Path
from intake.files import services, storage
with storage.scratch_folder() as folder:
    source = storage.write(folder / "source", bytes(range(256)) * ({SIZE} // 256))
    file = services.keep(source, file_id=UUID(int=7), name="TOLL.WAV", media_type="audio/wav")
print(file.key)
"""
TOLD = """
from intake.files.models import Incident, StoredFile
from intake.files.services import is_safe
from intake.audit.models import Event
print(is_safe(StoredFile.objects.get()), *Incident.objects.values_list("state", flat=True))
"""


def manage(env: dict[str, str], *args: str) -> str:
    done = subprocess.run(
        [sys.executable, "manage.py", *args], cwd=ROOT, env=env, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0 or args[0] == "check_copies", done.stderr
    return done.stdout


@pytest.fixture
def env(tmp_path) -> dict[str, str]:
    settings = {"VAR_DIR": str(tmp_path / "var"), "DJANGO_SETTINGS_MODULE": "intake.settings.local", "SECRET_KEY": "x"}
    kept = {name: value for name, value in os.environ.items() if name not in {"DATABASE_URL", "PRIMARY_STORE"}}
    env = {**kept, **settings, "DATABASE_URL": f"sqlite:///{tmp_path}/site.sqlite3", "LOG_LEVEL": "CRITICAL"}
    manage(env, "migrate", "--verbosity", "0")
    return env


def test_killed_again_and_again_it_ends_with_two_good_copies_and_the_bad_bytes_kept(env, tmp_path):
    key = manage(env, "shell", "--no-imports", "-c", PREPARE).strip()
    content = bytes(range(256)) * (SIZE // 256)
    spoilt = flip(12_345_678)(content)
    replica = tmp_path / "var" / "stores" / "replica"
    (replica / key).unlink()
    (replica / key).write_bytes(spoilt)
    for seconds in (0.9, 1.2, 1.5):  # starting takes most of a second
        with subprocess.Popen(
            [sys.executable, "manage.py", "check_copies", "--all"],
            cwd=ROOT,
            env=env,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        ) as process:
            time.sleep(seconds)
            process.send_signal(signal.SIGKILL)
        everything = {path.read_bytes() for path in (tmp_path / "var" / "stores").rglob("*") if path.is_file()}
        assert content in everything
        assert spoilt in everything
    manage(env, "check_copies", "--all")
    assert manage(env, "check_copies", "--all").endswith("Every copy is right.\n")
    assert (replica / key).read_bytes() == content
    assert manage(env, "shell", "--no-imports", "-c", TOLD).split() == ["True", "restored"]
    kept = [path for path in (replica / "quarantine").rglob("*") if path.is_file()]
    assert [path.read_bytes() == spoilt for path in kept] == [True]
