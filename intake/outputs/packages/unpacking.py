"""Get bags out of what somebody brings: a folder, or a ZIP archive that nothing is believed of."""

import shutil
import stat
import zipfile
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from lzma import LZMAError
from pathlib import Path, PurePosixPath

from intake.errors import Refused
from intake.figures import size
from intake.files import storage

BLOCK = 1024 * 1024
SPARE_BYTES = 100_000_000
# APPNOTE.TXT by PKWARE, section 4.4.4: bit 0 of the general purpose flags.
LOCKED = 1
UNREADABLE = (
    zipfile.BadZipFile,  # no archive, or its directory or a checksum is wrong
    zlib.error,  # broken bytes, packed by deflate
    LZMAError,  # the same, by LZMA
    EOFError,  # packed bytes that end too early
    OSError,  # the disk is full; broken bytes, packed by bzip2
    NotImplementedError,  # a version or a way of packing that zipfile does not know
)


@contextmanager
def bags_in(source: Path, progress: Callable[[int, int], None]) -> Iterator[list[Path]]:
    """The folders that are bags: the source itself or those in it. An archive is unpacked aside, and gone afterwards.

    Raises Refused if there is none, or if the archive is not one that can be unpacked safely.
    """
    if source.is_dir():
        yield _bags(source)
        return
    with storage.scratch_folder() as folder:
        try:
            with zipfile.ZipFile(source) as archive:
                _unpack(archive, folder, progress)
        except UNREADABLE as error:
            raise Refused(f"“{source.name}” cannot be unpacked: {error}.") from error
        yield _bags(folder)


def _bags(folder: Path) -> list[Path]:
    within = [folder, *sorted(path for path in folder.iterdir() if path.is_dir())]
    found = [path for path in within if (path / "bagit.txt").is_file()]
    if not found:
        raise Refused("There is no bag in it: no folder with a bagit.txt.")
    return found[:1] if found[0] == folder else found


def _unpack(archive: zipfile.ZipFile, folder: Path, progress: Callable[[int, int], None]) -> None:
    """SECURITY: names that lead elsewhere and links are refused before anything is written."""
    entries = archive.infolist()
    names = [entry.filename for entry in entries]
    if len(names) != len(set(names)):
        raise Refused("The archive holds two files of one name.")
    for entry in entries:
        steps = PurePosixPath(entry.filename).parts
        if "\\" in entry.filename or entry.filename.startswith("/") or ".." in steps or not steps or ":" in steps[0]:
            raise Refused(f"The archive holds a file that would lie outside of it: “{entry.filename}”.")
        if entry.flag_bits & LOCKED:
            raise zipfile.BadZipFile("it is locked with a password")
        if stat.S_ISLNK(entry.external_attr >> 16):
            raise Refused(f"The archive holds a link: “{entry.filename}”.")
    done, total = 0, sum(entry.file_size for entry in entries)
    if total + SPARE_BYTES > shutil.disk_usage(folder).free:
        raise Refused(f"Unpacking it takes {size(total)}, which this computer has no room for.")
    for entry in entries:
        if not entry.is_dir():
            _unpack_one(archive, entry, folder / entry.filename)
        done += entry.file_size
        progress(done, total)


def _unpack_one(archive: zipfile.ZipFile, entry: zipfile.ZipInfo, target: Path) -> None:
    """The archive's reader gives no more bytes than the entry declares, which were counted before."""
    target.parent.mkdir(parents=True, exist_ok=True)
    with archive.open(entry) as packed, target.open("wb") as file:
        shutil.copyfileobj(packed, file, BLOCK)
