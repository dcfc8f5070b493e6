"""The list of a backup's files with their SHA-256, in the form that `sha256sum -c` reads."""

import hashlib
from collections.abc import Iterator
from pathlib import Path

from intake.files.storage import sha256_of_path

NAME = "manifest-sha256.txt"


def write(folder: Path, digests: dict[str, str]) -> None:
    """Put the list in place whole: a half-written one never has the name."""
    lines = [f"{digest}  {path}\n" for path, digest in sorted(digests.items())]
    arriving = folder / f".{NAME}"
    arriving.write_text("".join(lines), encoding="utf-8")
    arriving.replace(folder / NAME)


def read(folder: Path) -> dict[str, str]:
    """Path to digest. Raises FileNotFoundError, or ValueError for a line that is none."""
    found = {}
    for line in (folder / NAME).read_text(encoding="utf-8").splitlines():
        digest, parting, path = line.partition("  ")
        if not parting or len(digest) != hashlib.sha256().digest_size * 2 or not _is_inside(path):
            raise ValueError(line)
        found[path] = digest
    return found


def damaged(folder: Path, digests: dict[str, str]) -> Iterator[str]:
    """A sentence for each file that is missing or not what the list says; all of them are read."""
    for path, digest in digests.items():
        try:
            found = sha256_of_path(folder / path)
        except FileNotFoundError:
            yield f"{path} is missing."
            continue
        except OSError as error:
            yield f"{path} cannot be read: {error.strerror}."
            continue
        if found != digest:
            yield f"{path} is not what it was when the backup was made."


def _is_inside(path: str) -> bool:
    """SECURITY: a list from elsewhere must not lead out of the backup's folder."""
    return not path.startswith("/") and ".." not in Path(path).parts
