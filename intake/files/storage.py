"""Where bytes lie, and how they get there whole; the only module that touches the stores and the staging folder."""

import fcntl
import hashlib
import os
import shutil
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO, cast
from urllib.parse import quote
from uuid import UUID

from django.conf import settings
from django.core.files.storage import FileSystemStorage, storages

from intake.files import objects

STORES = ("primary", "replica")
OTHERS = STORES[1:]
STAGING = "staging"
BLOCK = 1024 * 1024
ARRIVING = ".arriving-"  # how the temporary names of copies begin that are not whole yet

Progress = Callable[[int], None]


class Busy(Exception):
    """Another request is writing to the same upload."""


def place(store: str, key: str, source: Path) -> None:
    """Put a copy of `source` at `key`.

    Under a temporary name, synced, then renamed, so that a half copy never has the real name; object storage shows an
    object only once it is whole.
    """
    backend = storages[store]
    if isinstance(backend, FileSystemStorage):
        _place_on_disk(Path(backend.path(key)), source)
    else:
        with source.open("rb") as original:
            objects.of(backend).put_stream(key, original)


def place_from(store: str, key: str, other: str) -> None:
    """Put a copy at `key` that is read from another store as it is written, never held as a whole."""
    backend = storages[store]
    with open_copy(other, key) as source:
        if isinstance(backend, FileSystemStorage):
            _stream_to_disk(Path(backend.path(key)), source)
        else:
            objects.of(backend).put_stream(key, source)


def open_copy(store: str, key: str, start: int = 0) -> BinaryIO:
    """A stored copy, open for reading forward from `start`. Raises FileNotFoundError.

    From object storage it comes as it is read: nothing of it is gathered in memory or on this computer's disk.
    """
    backend = storages[store]
    if not isinstance(backend, FileSystemStorage):
        return objects.of(backend).read_from(key, start)
    file = cast("BinaryIO", backend.open(key, "rb"))
    file.seek(start)
    return file


def front_path(key: str) -> str:
    """Where the server in front finds the primary copy, if it is told to serve files; empty for object storage."""
    is_folder = isinstance(storages[STORES[0]], FileSystemStorage)
    return f"{settings.FRONT_FILES.rstrip('/')}/{quote(key)}" if settings.FRONT_FILES and is_folder else ""


def signed_link(key: str, *, media_type: str, disposition: str) -> str:
    """A short-lived address of the primary copy at its object store; empty for a folder, or if there are to be none."""
    backend = storages[STORES[0]]
    if not settings.SIGNED_LINK_SECONDS or isinstance(backend, FileSystemStorage):
        return ""
    link = {"seconds": settings.SIGNED_LINK_SECONDS, "media_type": media_type, "disposition": disposition}
    return objects.of(backend).signed_link(key, **link)


def remove(store: str, key: str) -> None:
    """Take away a copy that nothing was promised of; doing it again changes nothing."""
    backend = storages[store]
    if isinstance(backend, FileSystemStorage):
        Path(backend.path(key)).unlink(missing_ok=True)
    else:
        objects.of(backend).remove(key)


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


def read_head(path: Path, count: int) -> bytes:
    with path.open("rb") as file:
        return file.read(count)


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


def begin_sync(file: BinaryIO, offset: int, count: int) -> None:
    """Have these bytes travel to the disk while others come in, so that sync finds little left to wait for.

    The advice that they are not needed soon makes Linux begin to write them out; what is being written stays in memory.
    """
    if hasattr(os, "posix_fadvise"):
        os.posix_fadvise(file.fileno(), offset, count, os.POSIX_FADV_DONTNEED)


def sync(file: BinaryIO) -> None:
    """Bytes are on the disk itself before anybody is told so."""
    os.fsync(file.fileno())


def join(upload_id: UUID, partials: Sequence[tuple[UUID, int]]) -> None:
    """Make one staging file of several, given with their lengths in bytes, in this order. Repeatable."""
    target = staging_path(upload_id)
    if target.exists():
        return
    (first_id, length), *others = partials
    with staging_path(first_id).open("r+b") as file:
        file.truncate(length)  # an earlier try may have ended in the middle
        file.seek(length)
        for other_id, count in others:
            with staging_path(other_id).open("rb") as other:
                _copy_bytes(other, file, count)
        sync(file)
    staging_path(first_id).replace(target)


def _copy_bytes(source: BinaryIO, target: BinaryIO, count: int) -> None:
    while count and (block := source.read(min(BLOCK, count))):
        target.write(block)
        count -= len(block)


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
    with source.open("rb") as original:
        _stream_to_disk(target, original)


def _stream_to_disk(target: Path, source: BinaryIO) -> None:
    _make_folder(target.parent)
    handle, name = tempfile.mkstemp(prefix=ARRIVING, dir=target.parent)
    temporary = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            shutil.copyfileobj(source, file, BLOCK)
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


def move(standing: Path, target: Path) -> None:
    """Give a file or folder another name on the same disk; both folders are synced, so that it has one of the two."""
    _make_folder(target.parent)
    standing.rename(target)
    _sync_folder(target.parent)
    _sync_folder(standing.parent)
