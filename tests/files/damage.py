"""Ways in which a stored copy goes bad, done to the bytes themselves, in folders and in a bucket."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

from django.core.files.storage import storages

from intake.files.models import StoredFile

Change = Callable[[bytes], bytes]


def flip(position: int, bit: int = 0) -> Change:
    """One bit turned over."""

    def change(content: bytes) -> bytes:
        spoilt = bytearray(content)
        spoilt[position] ^= 1 << bit
        return bytes(spoilt)

    return change


CHANGES: dict[str, Change] = {
    "one bit in the first byte": flip(0),
    "one bit in the last byte": flip(-1, 7),
    "one bit somewhere": flip(1234, 3),
    "cut short by a byte": lambda content: content[:-1],
    "emptied": lambda content: b"",
    "grown by a byte": lambda content: content + b"\0",
    "another recording of the same length": lambda content: content[::-1],
}


class Folder:
    """A store that is a folder, for a test to spoil."""

    def __init__(self, store: str) -> None:
        self.root = Path(storages[store].location)

    def path(self, key: str) -> Path:
        return self.root / key

    def read(self, key: str) -> bytes:
        return self.path(key).read_bytes()

    def write(self, key: str, content: bytes) -> None:
        path = self.path(key)
        path.parent.mkdir(parents=True, exist_ok=True)
        path.unlink(missing_ok=True)
        path.write_bytes(content)

    def delete(self, key: str) -> None:
        self.path(key).unlink()

    def everything(self) -> dict[str, bytes]:
        """All bytes in the store by name, whatever they are called; its mark and empty folders aside."""
        return {
            path.relative_to(self.root).as_posix(): path.read_bytes()
            for path in sorted(self.root.rglob("*"))
            if path.is_file() and path.name != ".store"
        }


class Bucket:
    """A store in a bucket of an S3-compatible server."""

    def __init__(self, store: str) -> None:
        backend: Any = storages[store]
        self.client, self.name = backend.connection.meta.client, backend.bucket_name
        self.root = f"{backend.location}/"

    def read(self, key: str) -> bytes:
        return self.client.get_object(Bucket=self.name, Key=self.root + key)["Body"].read()

    def write(self, key: str, content: bytes) -> None:
        self.client.put_object(Bucket=self.name, Key=self.root + key, Body=content)

    def delete(self, key: str) -> None:
        self.client.delete_object(Bucket=self.name, Key=self.root + key)

    def everything(self) -> dict[str, bytes]:
        pages = self.client.get_paginator("list_objects_v2").paginate(Bucket=self.name, Prefix=self.root)
        keys = [one["Key"].removeprefix(self.root) for page in pages for one in page.get("Contents", ())]
        return {key: self.read(key) for key in keys if key != ".store"}


def spoil(place: Folder | Bucket, file: StoredFile, change: Change) -> bytes:
    """Put other bytes in the place of a copy; returns them."""
    spoilt = change(place.read(file.key))
    place.write(file.key, spoilt)
    return spoilt
