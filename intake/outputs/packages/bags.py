"""A bag (BagIt 1.0, RFC 8493) as a stream of named files, never gathered. Nothing here knows the database."""

import hashlib
import textwrap
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import closing
from dataclasses import dataclass
from datetime import date
from typing import BinaryIO

from zipstream import ZIP_STORED, ZipStream

from intake.figures import size

BLOCK = 1024 * 1024
ALGORITHMS = ("sha512", "sha256")  # section 2.4: both must be known, SHA-512 should be the default
DECLARATION = b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
LINE = 79  # section 2.2.2: a line should be no longer


class NotAsStored(Exception):
    """What was read of a file is not what its digest says. Nothing that was written of the bag may be relied on."""

    def __init__(self, content: "Content") -> None:
        super().__init__(f"“{content.path}” is not what was stored under its SHA-256.")
        self.content = content


@dataclass(frozen=True)
class Content:
    """One file of the payload: its path below `data/`, and how to read it. `id` is whatever the maker knows it by."""

    id: str
    path: str
    bytes: int
    sha256: str
    open: Callable[[], BinaryIO]


@dataclass(frozen=True)
class Digests:
    """Of one file, in hex."""

    sha512: str
    sha256: str


Told = Mapping[str, Digests]


@dataclass(frozen=True)
class Bag:
    """What goes into a bag. `tags` are made after the payload was read, from the digests of its paths."""

    name: str
    payload: tuple[Content, ...]
    tags: tuple[tuple[str, Callable[[Told], bytes]], ...]
    info: tuple[tuple[str, str], ...]

    @property
    def bytes(self) -> int:
        return sum(content.bytes for content in self.payload)


@dataclass(frozen=True)
class Member:
    """One file of a bag, to be read to its end before the next one is asked for."""

    path: str
    length: int
    blocks: Iterable[bytes]


def members(bag: Bag, *, on: date) -> Iterator[Member]:
    """Every file of the bag, the payload first: what tells of it is written afterwards. Raises NotAsStored."""
    payload: dict[str, Digests] = {}
    for content in bag.payload:
        yield Member(f"data/{content.path}", content.bytes, _proven(content, payload))
    tags: dict[str, Digests] = {}
    for path, make in bag.tags:
        yield _told(path, make(payload), tags)
    for algorithm in ALGORITHMS:
        yield _told(f"manifest-{algorithm}.txt", _manifest(payload, algorithm), tags)
    yield _told("bag-info.txt", _info(bag, on), tags)
    yield _told("bagit.txt", DECLARATION, tags)
    for algorithm in ALGORITHMS:
        yield _told(f"tagmanifest-{algorithm}.txt", _manifest(tags, algorithm), {})


def zipped(bags: Iterable[Bag], *, on: date) -> Iterator[bytes]:
    """A ZIP archive with a folder for each bag, as it is written; ZIP64 where a file or the whole needs it.

    Stored, not compressed: recordings hardly shrink, and a byte lost costs no more than itself.
    """
    archive = ZipStream(compress_type=ZIP_STORED)
    for bag in bags:
        for member in members(bag, on=on):
            archive.add(member.blocks, f"{bag.name}/{member.path}", size=member.length)
            yield from archive.all_files()
    yield from archive.finalize()


def _proven(content: Content, payload: dict[str, Digests]) -> Iterator[bytes]:
    """The bytes as they are read; at their end they have been what was stored, or NotAsStored is raised."""
    sha512, sha256, count = hashlib.sha512(), hashlib.sha256(), 0
    with closing(content.open()) as file:
        while block := file.read(BLOCK):
            sha512.update(block)
            sha256.update(block)
            count += len(block)
            yield block
    if (sha256.hexdigest(), count) != (content.sha256, content.bytes):
        raise NotAsStored(content)
    payload[f"data/{content.path}"] = Digests(sha512.hexdigest(), sha256.hexdigest())


def _told(path: str, made: bytes, tags: dict[str, Digests]) -> Member:
    tags[path] = Digests(hashlib.sha512(made).hexdigest(), hashlib.sha256(made).hexdigest())
    return Member(path, len(made), [made] if made else [])


def _manifest(digests: Told, algorithm: str) -> bytes:
    lines = [f"{getattr(told, algorithm)}  {path}\n" for path, told in sorted(digests.items())]
    return "".join(lines).encode()


def _info(bag: Bag, on: date) -> bytes:
    said = [
        *bag.info,
        ("Bagging-Date", on.isoformat()),
        ("Bag-Size", size(bag.bytes)),
        ("Payload-Oxum", f"{bag.bytes}.{len(bag.payload)}"),
    ]
    return "".join(_folded(label, value) for label, value in said if value).encode()


def _folded(label: str, value: str) -> str:
    """One element; what is longer goes on, indented, on lines of its own."""
    whole = f"{label}: {' '.join(value.split())}"
    return "\n".join(textwrap.wrap(whole, LINE, subsequent_indent="  ", break_on_hyphens=False)) + "\n"
