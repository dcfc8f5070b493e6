"""Two stores that are folders of one test, for tests that spoil what lies in them."""

from collections.abc import Callable
from uuid import uuid4

import pytest

from intake.files import services, storage
from intake.files.models import StoredFile
from tests.files.damage import Folder

CONTENT = bytes(range(256)) * 40


@pytest.fixture
def folders(settings, tmp_path) -> dict[str, Folder]:
    for name in storage.STORES:
        location = {"OPTIONS": {"location": tmp_path / "stores" / name}}
        backend = {"BACKEND": "django.core.files.storage.FileSystemStorage"}
        settings.STORAGES = {**settings.STORAGES, name: {**backend, **location}}
    return {name: Folder(name) for name in storage.STORES}


@pytest.fixture
def a_file(db: None) -> Callable[..., StoredFile]:
    """Keeps some bytes in the stores of this test."""

    def keep(content: bytes = CONTENT, name: str = "TOLL0007.WAV") -> StoredFile:
        with storage.scratch_folder() as folder:
            source = storage.write(folder / "source", content)
            return services.keep(source, file_id=uuid4(), name=name, media_type="audio/wav")

    return keep


@pytest.fixture
def file(folders: dict[str, Folder], a_file: Callable[..., StoredFile]) -> StoredFile:
    return a_file()
