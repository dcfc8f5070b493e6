"""Object storage that speaks S3: the one place that talks to its client.

django-storages opens the connection and names the objects; its own file class gathers a whole object in memory before
the first byte is read, which a recording of gigabytes forbids.
"""

import math
from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import Any, BinaryIO, cast

from boto3.s3.transfer import TransferConfig
from botocore.exceptions import ClientError
from django.core.files.storage import Storage
from storages.backends.s3 import S3Storage
from storages.utils import clean_name

# S3's own limits (from memory): every part but the last has at least 5 MiB, no copied range has more than 5 GiB.
LEAST_PART_BYTES = 5 * 1024**2
COPIED_RANGE_BYTES = 1024**3
# One part in memory at a time; several would travel faster and take their sum.
ONE_AT_A_TIME = TransferConfig(multipart_chunksize=16 * 1024**2, use_threads=False)
MANY = 1000  # listed in one request (S3 API, ListObjectsV2)
NOT_THERE = {"404", "NoSuchKey", "NotFound", "NoSuchUpload"}


def of(backend: Storage) -> "Objects":
    """The objects behind one of Django's storages. Any other storage than a folder or S3 is a fault of the settings."""
    assert isinstance(backend, S3Storage), "a store is a folder or s3://bucket/prefix (settings.store)"
    return Objects(backend)


class Objects:
    """The objects of one bucket below one prefix, by their keys."""

    def __init__(self, backend: S3Storage) -> None:
        self._client: Any = backend.connection.meta.client
        self._backend = backend

    def read_from(self, key: str, start: int) -> BinaryIO:
        """The object's bytes from `start`, as they come. Raises FileNotFoundError."""
        try:
            answer = self._client.get_object(**self._named(key), **({"Range": f"bytes={start}-"} if start else {}))
        except ClientError as error:
            raise _not_found(error, key) from error
        return cast("BinaryIO", answer["Body"])

    def put_stream(self, key: str, source: BinaryIO) -> None:
        """Put an object in the place of whatever has this key; it appears once it is whole."""
        self._client.upload_fileobj(source, **self._named(key), Config=ONE_AT_A_TIME)

    def put(self, key: str, content: bytes) -> None:
        self._client.put_object(**self._named(key), Body=content)

    def size(self, key: str) -> int | None:
        """In bytes; None if there is no such object."""
        try:
            return self._client.head_object(**self._named(key))["ContentLength"]
        except ClientError as error:
            _not_found(error, key)
            return None

    def move(self, key: str, target: str) -> None:
        """The server itself copies, large objects in parts; the old name goes once the new one is as large."""
        source = self._named(key)
        self._client.copy(source, Key=self._named(target)["Key"], Bucket=source["Bucket"])
        if self.size(target) != self.size(key):
            raise OSError(f"not all of {key} was copied to {target}; the old name was left")
        self.remove(key)

    def tops(self) -> Iterator[str]:
        """What lies at the top, folders with a slash."""
        for page in self._pages("", Delimiter="/"):
            yield from (self._key(found["Prefix"]) for found in page.get("CommonPrefixes", ()))
            yield from (self._key(found["Key"]) for found in page.get("Contents", ()) if self._key(found["Key"]))

    def listing(self, below: str) -> Iterator[tuple[str, int, datetime]]:
        """Key, bytes and moment of every object below a folder; some servers list folders as objects of no bytes."""
        for page in self._pages(below):
            for found in page.get("Contents", ()):
                if not found["Key"].endswith("/"):
                    yield self._key(found["Key"]), found["Size"], found["LastModified"]

    def signed_link(self, key: str, *, seconds: int, media_type: str, disposition: str) -> str:
        """An address that opens one object to whoever has it, for so many seconds."""
        said = {"ResponseContentType": media_type, "ResponseContentDisposition": disposition}
        return self._client.generate_presigned_url(
            "get_object",
            Params={**self._named(key), **said, "ResponseCacheControl": "private, no-store"},
            ExpiresIn=seconds,
        )

    def remove(self, key: str) -> None:
        self._client.delete_object(**self._named(key))

    # What is gathered part by part (a multipart upload)

    def begin(self, key: str) -> str:
        return self._client.create_multipart_upload(**self._named(key))["UploadId"]

    def put_part(self, gathering: str, key: str, number: int, content: bytes) -> str:
        """Returns the part's ETag."""
        part = self._client.upload_part(**self._named(key), UploadId=gathering, PartNumber=number, Body=content)
        return part["ETag"]

    def copy_parts(
        self, gathering: str, key: str, source: str, start: int, stop: int, *, first: int
    ) -> list[tuple[int, str]]:
        """Copy bytes of an object into parts from number `first` on, inside the store; numbers and ETags."""
        etags = []
        # Ranges of one length, so that none is too short to be a part.
        length = math.ceil((stop - start) / math.ceil((stop - start) / COPIED_RANGE_BYTES))
        for number, begin in enumerate(range(start, stop, length), start=first):
            part = self._client.upload_part_copy(
                **self._named(key),
                UploadId=gathering,
                PartNumber=number,
                CopySource={"Bucket": self._backend.bucket_name, "Key": self._named(source)["Key"]},
                CopySourceRange=f"bytes={begin}-{min(begin + length, stop) - 1}",
            )
            etags.append((number, part["CopyPartResult"]["ETag"]))
        return etags

    def complete(self, gathering: str, key: str, parts: Sequence[tuple[int, str]]) -> None:
        """Make the object of these parts and no others. One that was completed before, and stands, is left as it is."""
        listed = [{"PartNumber": number, "ETag": etag} for number, etag in parts]
        try:
            self._client.complete_multipart_upload(
                **self._named(key), UploadId=gathering, MultipartUpload={"Parts": listed}
            )
        except ClientError as error:
            _not_found(error, key)
            if self.size(key) is None:
                raise

    def abandon(self, gathering: str, key: str) -> None:
        """Free what was gathered; doing it again changes nothing."""
        try:
            self._client.abort_multipart_upload(**self._named(key), UploadId=gathering)
        except ClientError as error:
            _not_found(error, key)

    def read(self, key: str, start: int = 0, count: int = -1) -> bytes:
        return self.read_from(key, start).read(*([count] if count >= 0 else []))

    def _pages(self, below: str, **asked: str) -> Iterator[dict[str, Any]]:
        named = {"Bucket": self._backend.bucket_name, "Prefix": self._root + below}
        pages = self._client.get_paginator("list_objects_v2")
        yield from pages.paginate(**named, **asked, PaginationConfig={"PageSize": MANY})

    @property
    def _root(self) -> str:
        location = self._backend.location.strip("/")
        return f"{location}/" if location else ""

    def _key(self, name: str) -> str:
        return name.removeprefix(self._root)

    def _named(self, key: str) -> dict[str, str]:
        return {"Bucket": self._backend.bucket_name, "Key": self._backend._normalize_name(clean_name(key))}


def _not_found(error: ClientError, key: str) -> FileNotFoundError:
    """The error in the words of a file system; raises any other error again."""
    if error.response["Error"]["Code"] not in NOT_THERE:
        raise error
    return FileNotFoundError(key)
