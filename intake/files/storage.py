"""Where bytes lie, and how they get there whole; the only module that touches the stores and the staging folder."""

import fcntl
import hashlib
import os
import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO, cast
from uuid import UUID

from django.conf import settings
from django.core.files import File
from django.core.files.storage import FileSystemStorage, Storage, storages

STORES = ("primary", "replica")
STAGING = "staging"
BLOCK = 1024 * 1024

Progress = Callable[[int], None]


class Busy(Exception):
    """Another request is writing to the same upload."""


def place(store: str, key: str, source: Path) -> None:
    """Put a copy of `source` at `key`.

    Under a temporary name, synced, then renamed, so that a half copy never has the real name.
    """
    backend = storages[store]
    if isinstance(backend, FileSystemStorage):
        _place_on_disk(Path(backend.path(key)), source)
    else:
        _place_elsewhere(backend, key, source)


def open_copy(store: str, key: str) -> BinaryIO:
    """A stored copy, open for reading. Raises FileNotFoundError."""
    return cast("BinaryIO", storages[store].open(key, "rb"))


def sha256_of_copy(store: str, key: str, progress: Progress = lambda count: None) -> str:
    """Read a stored copy back and give its digest, in hex."""
    with open_copy(store, key) as file:
        return sha256_of_stream(file, progress)


def sha256_of_path(path: Path, progress: Progress = lambda count: None) -> str:
    with path.open("rb") as file:
        return sha256_of_stream(file, progress)


def sha256_of_stream(file: BinaryIO, progress: Progress = lambda count: None) -> str:
    """SHA-256 in hex, block by block; `progress` is told the number of bytes of each block."""
    digest = hashlib.sha256()
    while block := file.read(BLOCK):
        digest.update(block)
        progress(len(block))
    return digest.hexdigest()


@contextmanager
def local_path(key: str) -> Iterator[Path]:
    """A stored file as a path on this machine.

    The primary copy itself on disk, a temporary copy of it from elsewhere. Read only.
    """
    backend = storages["primary"]
    if isinstance(backend, FileSystemStorage):
        yield Path(backend.path(key))
        return
    with tempfile.TemporaryDirectory(prefix="copy-") as folder:
        path = Path(folder) / Path(key).name
        with open_copy("primary", key) as file, path.open("wb") as target:
            shutil.copyfileobj(file, target, BLOCK)
        yield path


@contextmanager
def scratch_folder() -> Iterator[Path]:
    """A folder for making something in; gone afterwards."""
    settings.STAGING_DIR.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix="making-", dir=settings.STAGING_DIR) as folder:
        yield Path(folder)


def write(path: Path, content: bytes) -> Path:
    path.write_bytes(content)
    return path


def read(path: Path) -> bytes:
    return path.read_bytes()


def files_below(folder: Path) -> Iterator[tuple[str, Path]]:
    """Everything in a folder and those below it that is no folder, by its name from there; links are not followed."""
    for base, _, names in os.walk(folder):
        for name in names:
            path = Path(base) / name
            if not path.is_symlink():
                yield path.relative_to(folder).as_posix(), path


def links_below(folder: Path) -> Iterator[str]:
    """The links in a folder, to files and to folders, by their names from there."""
    for base, folders, names in os.walk(folder):
        for path in (Path(base) / name for name in [*folders, *names]):
            if path.is_symlink():
                yield path.relative_to(folder).as_posix()


def can_be_read(path: Path) -> bool:
    return os.access(path, os.R_OK)


def stage(upload_id: UUID, source: Path) -> str:
    """Copy a file of this computer to where an upload gathers its bytes; returns its SHA-256 in hex.

    SECURITY: a link is not followed, should one have taken the file's place since it was looked at.
    """
    digest = hashlib.sha256()
    handle = os.open(source, os.O_RDONLY | os.O_NOFOLLOW)
    with os.fdopen(handle, "rb") as file, staging_file(upload_id) as target:
        target.truncate(0)
        while block := file.read(BLOCK):
            write_block(target, block)
            digest.update(block)
        sync(target)
    return digest.hexdigest()


@contextmanager
def only_one(what: str) -> Iterator[None]:
    """Hold a lock that the computer itself lets go of when the process ends, however it ends. Raises Busy."""
    settings.STAGING_DIR.mkdir(parents=True, exist_ok=True)
    with (settings.STAGING_DIR / f"{what}.lock").open("wb") as file:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            raise Busy from error
        yield


def staging_path(upload_id: UUID) -> Path:
    return settings.STAGING_DIR / f"{upload_id}.part"


@contextmanager
def staging_file(upload_id: UUID) -> Iterator[BinaryIO]:
    """The growing file of an upload, open for writing by one request at a time. Raises Busy."""
    settings.STAGING_DIR.mkdir(parents=True, exist_ok=True)
    handle = os.open(staging_path(upload_id), os.O_RDWR | os.O_CREAT, 0o600)
    with os.fdopen(handle, "r+b", buffering=0) as file:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            raise Busy from error
        yield file


def write_block(file: BinaryIO, block: bytes) -> None:
    """All of the block: raw writes may take less than they are given. Raises OSError, for a full disk among others."""
    left = memoryview(block)
    while left:
        left = left[file.write(left) :]


def sync(file: BinaryIO) -> None:
    """Bytes are on the disk itself before anybody is told so."""
    os.fsync(file.fileno())


def clear_staging(upload_id: UUID) -> None:
    staging_path(upload_id).unlink(missing_ok=True)


def disks() -> list[tuple[tuple[str, ...], int]]:
    """Each disk that holds the staging folder or a store: which of them, and the bytes that are free on it."""
    folders = {STAGING: settings.STAGING_DIR}
    for store in STORES:
        backend = storages[store]
        if isinstance(backend, FileSystemStorage):
            folders[store] = Path(backend.location)
    on_disk: dict[int, list[str]] = {}
    for place, folder in folders.items():
        folder.mkdir(parents=True, exist_ok=True)
        on_disk.setdefault(folder.stat().st_dev, []).append(place)
    return [(tuple(places), shutil.disk_usage(folders[places[0]]).free) for places in on_disk.values()]


def _place_on_disk(target: Path, source: Path) -> None:
    _make_folder(target.parent)
    handle, name = tempfile.mkstemp(prefix=".arriving-", dir=target.parent)
    temporary = Path(name)
    try:
        with os.fdopen(handle, "wb") as file, source.open("rb") as original:
            shutil.copyfileobj(original, file, BLOCK)
            file.flush()
            os.fsync(file.fileno())
        temporary.chmod(0o440)  # an original is never written again
        temporary.replace(target)
    finally:
        temporary.unlink(missing_ok=True)
    _sync_folder(target.parent)


def _make_folder(folder: Path) -> None:
    """Make a folder and those above it; each new name is synced where it stands, like the name of a file."""
    if folder.is_dir():
        return
    _make_folder(folder.parent)
    folder.mkdir(exist_ok=True)
    _sync_folder(folder.parent)


def _sync_folder(folder: Path) -> None:
    """A new name is only safe against a power cut once its folder itself is synced."""
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _place_elsewhere(backend: Storage, key: str, source: Path) -> None:
    """Object storage shows an object only once it is whole, so there is no name to change.

    An earlier try's copy is replaced.
    """
    if backend.exists(key):
        backend.delete(key)
    with source.open("rb") as original:
        saved = backend.save(key, File(original, name=key))
    if saved != key:
        raise OSError(f"the store kept {saved!r} instead of {key!r}")


def move(standing: Path, target: Path) -> None:
    """Give a file or folder another name on the same disk; both folders are synced, so that it has one of the two."""
    _make_folder(target.parent)
    standing.rename(target)
    _sync_folder(target.parent)
    _sync_folder(standing.parent)
