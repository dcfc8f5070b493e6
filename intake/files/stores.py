"""The two stores looked at from outside: is a store there, what lies in it, read a copy anew, set one aside.

Beside storage.py, which places and opens, the only module that touches the stores. A store is a folder or a bucket.
"""

import os
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, BinaryIO, cast

from botocore.exceptions import BotoCoreError, ClientError
from django.core.files.storage import FileSystemStorage, storages

from intake.files import objects, storage

# What a disk, a network or an object store may answer instead of bytes.
FAULTS = (OSError, BotoCoreError, ClientError)
# Lies in every store with its name in it, so that an empty mount point is not taken for a store that lost its files.
MARK = ".store"
QUARANTINE = "quarantine"


class StoreGone(OSError):
    """The store itself is not there or does not answer: nothing can be said of its copies, and nothing be placed."""


@dataclass(frozen=True)
class Listed:
    """One thing that lies in a store. `bytes` None where it is none that could be a copy, such as a link."""

    key: str
    bytes: int | None
    modified_at: datetime

    @property
    def is_arriving(self) -> bool:
        """Whether this is the temporary name of a copy on its way in, or of one that broke off."""
        return self.key.rpartition("/")[2].startswith(storage.ARRIVING)


def mark(store: str) -> None:
    """Say in the store itself that it is this store; safe to repeat."""
    backend = storages[store]
    if backend.exists(MARK):
        return
    if isinstance(backend, FileSystemStorage):
        with storage.scratch_folder() as folder:
            storage.place(store, MARK, storage.write(folder / "mark", _words_of_mark(store)))
    else:
        objects.of(backend).put(MARK, _words_of_mark(store))


def require(store: str) -> None:
    """Raises StoreGone unless the store answers and says that it is this one."""
    try:
        with storage.open_copy(store, MARK) as file:
            found = file.read()
    except FileNotFoundError as error:
        raise StoreGone(f"Its mark “{MARK}” is not there: another disk, an empty folder or an empty bucket.") from error
    except FAULTS as error:
        raise StoreGone(f"It does not answer: {in_words(error)}") from error
    if found != _words_of_mark(store):
        raise StoreGone(f"Its mark says that it is another store: {found[:60]!r}.")


def in_words(error: Exception) -> str:
    """What a disk or an object store said, short enough for a row."""
    return f"{type(error).__name__}: {error}"[:400]


def read_anew(store: str, key: str) -> Iterator[bytes]:
    """The blocks of a copy as the disk or the bucket gives them now. Raises FileNotFoundError or another of FAULTS."""
    backend = storages[store]
    if isinstance(backend, FileSystemStorage):
        yield from _from_the_disk(Path(backend.path(key)))
        return
    with closing(objects.of(backend).read_from(key, 0)) as body:
        yield from _blocks(body)


@contextmanager
def path_of_copy(store: str, key: str) -> Iterator[Path]:
    """A copy as a path on this computer: itself in a folder, a temporary copy of it from a bucket. Read only."""
    backend = storages[store]
    if isinstance(backend, FileSystemStorage):
        yield Path(backend.path(key))
        return
    with storage.scratch_folder() as folder:
        path = folder / "copy"
        with path.open("wb") as target:
            for block in read_anew(store, key):
                target.write(block)
        yield path


def stands(store: str, key: str) -> bool:
    """Whether anything has this name, a copy or not."""
    backend = storages[store]
    if isinstance(backend, FileSystemStorage):
        return _in_the_way(Path(backend.path(key)), Path(backend.location)) is not None
    return objects.of(backend).size(key) is not None


def set_aside(store: str, key: str, under: str) -> str:
    """Give what has this name another one in the quarantine of its store; returns it, "" if there was nothing.

    Nothing is overwritten and no byte is lost: in a bucket the new object stands before the old one goes.
    """
    if not stands(store, key):
        return ""
    backend = storages[store]
    target = _free_name(store, f"{QUARANTINE}/{under}/{key}")
    if isinstance(backend, FileSystemStorage):
        standing = _in_the_way(Path(backend.path(key)), Path(backend.location))
        assert standing is not None, "asked just before"
        storage.move(standing, Path(backend.path(target)))
    else:
        objects.of(backend).move(key, target)
    return target


def set_aside_before(store: str, key: str, under: str) -> str:
    """The name that something was set aside by before; "" if nothing was."""
    name = f"{QUARANTINE}/{under}/{key}"
    return name if stands(store, name) else ""


def tops(store: str) -> Iterator[str]:
    """What lies at the top of a store, folders with a slash; the mark and the quarantine are left out."""
    backend = storages[store]
    is_folder = isinstance(backend, FileSystemStorage)
    for name in _tops_of_folder(store) if is_folder else objects.of(backend).tops():
        if name != f"{QUARANTINE}/" and not name.startswith(MARK):
            yield name


def listing(store: str, below: str) -> Iterator[Listed]:
    """Everything in one of the tops of a store, in no order to be relied on."""
    backend = storages[store]
    if isinstance(backend, FileSystemStorage):
        root = Path(backend.location)
        yield from _list_folder(root, root / below.rstrip("/"))
    else:
        yield from (Listed(*found) for found in objects.of(backend).listing(below))


def remove_broken_off(store: str, key: str) -> None:
    """Remove the temporary name of a copy that never came in whole. SECURITY: no other name is ever removed."""
    if not key.rpartition("/")[2].startswith(storage.ARRIVING):
        raise ValueError(key)
    Path(cast("FileSystemStorage", storages[store]).path(key)).unlink(missing_ok=True)


def _words_of_mark(store: str) -> bytes:
    return f"This is the {store} store of the library's recordings. Leave this file where it is.\n".encode()


def _free_name(store: str, name: str) -> str:
    """This name, or with a number at its end where one is in use already."""
    number, free = 1, name
    while stands(store, free):
        number += 1
        free = f"{name}.{number}"
    return free


# Folders


def _from_the_disk(path: Path) -> Iterator[bytes]:
    """What the system remembers of the file is dropped first: the question is what the disk holds."""
    with path.open("rb", buffering=0) as file:
        os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)
        yield from _blocks(file)
        os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)


def _blocks(file: Any) -> Iterator[bytes]:
    while block := cast("BinaryIO", file).read(storage.BLOCK):
        yield block


def _in_the_way(path: Path, root: Path) -> Path | None:
    """What stands at this path; a file where one of its folders should be stands there too. None if nothing does."""
    for above in [path, *path.parents]:
        if above == root or root not in above.parents:
            return None
        if os.path.lexists(above):
            is_folder_on_the_way = above != path and above.is_dir() and not above.is_symlink()
            return None if is_folder_on_the_way else above
    return None


def _tops_of_folder(store: str) -> Iterator[str]:
    with os.scandir(cast("FileSystemStorage", storages[store]).location) as entries:
        for entry in entries:
            yield f"{entry.name}/" if entry.is_dir(follow_symlinks=False) else entry.name


def _list_folder(root: Path, path: Path) -> Iterator[Listed]:
    """Folder by folder; what is gone by the time it is looked at is not there."""
    if path.is_dir() and not path.is_symlink():
        try:
            with os.scandir(path) as entries:
                names = [entry.name for entry in entries]
        except FileNotFoundError:
            return
        for name in names:
            yield from _list_folder(root, path / name)
        return
    try:
        stat = path.lstat()
    except FileNotFoundError:
        return
    key = path.relative_to(root).as_posix().encode("utf-8", "surrogateescape").decode("utf-8", "replace")
    is_file = path.is_file() and not path.is_symlink()
    yield Listed(key, stat.st_size if is_file else None, datetime.fromtimestamp(stat.st_mtime, UTC))
