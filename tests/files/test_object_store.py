"""The stores on a real S3-compatible server: the same promises as in folders."""

import hashlib
from pathlib import Path
from uuid import uuid4

import pytest
from django.test import RequestFactory

from intake.files import services, storage
from intake.web.ranges import serve

pytestmark = [pytest.mark.django_db, pytest.mark.processes]


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
