"""Read tiles out of a sound picture (audio_qc.picture says how it is built), wherever it is stored."""

import json
from contextlib import closing
from typing import Any

from django.core.cache import cache

from intake.files import serving
from intake.outputs.models import Output

MEDIA_TYPE = "application/octet-stream"
LENGTH_BYTES = 8
KEPT_SECONDS = 3600


def index_of(picture: Output) -> dict[str, Any]:
    """The picture's account of itself; `levels` says for each level where its tiles begin and how long they are."""
    key = f"picture-index-{picture.file_id}"
    known = cache.get(key)
    if known is None:
        known = _read_index(picture)
        cache.set(key, known, KEPT_SECONDS)
    return known


def tile_of(picture: Output, level: int, number: int) -> bytes | None:
    """One tile, compressed as it is kept; None where the picture has no such tile."""
    levels = index_of(picture)["levels"]
    if level >= len(levels) or number >= len(levels[level]):
        return None
    start, length = levels[level][number]
    return _read(picture, start, length)


def _read_index(picture: Output) -> dict[str, Any]:
    end = picture.file.bytes - LENGTH_BYTES
    length = int.from_bytes(_read(picture, end, LENGTH_BYTES), "little")
    index: dict[str, Any] = json.loads(_read(picture, end - length, length))
    return index


def _read(picture: Output, start: int, length: int) -> bytes:
    with closing(serving.open_copy(picture.file, start)) as copy:
        return copy.read(length)
