"""The pages of a scanned or photographed form, as pictures small enough to print and to search for a code."""

from collections.abc import Callable, Iterator
from contextlib import suppress
from io import BytesIO
from itertools import islice
from pathlib import Path
from threading import Lock
from typing import TypeVar

import pypdfium2
from PIL import Image, ImageOps, ImageSequence, UnidentifiedImageError

PDF = "application/pdf"
FORMATS = {"image/jpeg": "JPEG", "image/png": "PNG", "image/tiff": "TIFF", "image/webp": "WEBP"}
# A page of A4 at 600 dots an inch has 35 million pixels; three times that is no page any more.
MAX_PIXELS = 100_000_000
# 200 dots an inch on the height of A4: enough to read a form by.
MAX_SIDE = 2300
# A form has two or three pages; what is longer is no form, and nobody waits for a book (common practice, no source).
MOST_PAGES = 12
UNREADABLE = (
    UnidentifiedImageError,  # not of the kind that its first bytes named
    Image.DecompressionBombError,  # Pillow's own limit of pixels
    OSError,  # a picture that ends too early
    EOFError,  # the same, in a TIFF's list of pages
    SyntaxError,  # what Pillow raises for a broken PNG or TIFF header
    ValueError,  # more pixels than a page has (below), or a header's impossible value
    pypdfium2.PdfiumError,  # a damaged PDF, or one with a password
)
# PDFium may be used by one thread at a time (the documentation of pypdfium2).
_PDFIUM = Lock()
T = TypeVar("T")


def pictures_of(path: Path, media_type: str) -> list[bytes]:
    """Each page of the file as a JPEG; none for a HEIC, or for what cannot be read as its kind."""
    return on_each_page(path, media_type, _small_jpeg)


def on_each_page(path: Path, media_type: str, do: Callable[[Image.Image], T]) -> list[T]:
    """What `do` makes of each page in turn, upright and small enough to work with; one page at a time is in memory.

    The first MOST_PAGES pages; those before a damaged one, and none for a HEIC or another kind than `media_type` says.
    SECURITY: the file comes from outside. The pixels of a picture are counted before one of them is unpacked, a page
    is drawn no larger than MAX_SIDE, and no other format than the one its first bytes named is tried.
    """
    done: list[T] = []
    with suppress(*UNREADABLE):
        done.extend(do(page) for page in islice(_pages(path, media_type), MOST_PAGES))
    return done


def _pages(path: Path, media_type: str) -> Iterator[Image.Image]:
    if media_type == PDF:
        yield from _drawn(path)
    elif media_type in FORMATS:
        with Image.open(path, formats=[FORMATS[media_type]]) as image:
            for frame in ImageSequence.Iterator(image):
                yield _upright(frame)


def _drawn(path: Path) -> Iterator[Image.Image]:
    with _PDFIUM, pypdfium2.PdfDocument(path) as document:
        for page in document:
            scale = MAX_SIDE / max(page.get_size())
            yield page.render(scale=scale, may_draw_forms=False).to_pil().convert("RGB")
            page.close()


def _upright(frame: Image.Image) -> Image.Image:
    if frame.width * frame.height > MAX_PIXELS:
        raise ValueError("This is no page of paper.")
    frame.draft("RGB", (MAX_SIDE, MAX_SIDE))
    upright = ImageOps.exif_transpose(frame).convert("RGB")
    upright.thumbnail((MAX_SIDE, MAX_SIDE))
    return upright


def _small_jpeg(image: Image.Image) -> bytes:
    made = BytesIO()
    image.save(made, "JPEG", quality=80)
    return made.getvalue()
