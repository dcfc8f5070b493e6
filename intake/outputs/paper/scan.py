"""A scan of a signed form made small enough to print, where it is a picture that can be read."""

from io import BytesIO
from pathlib import Path

from PIL import Image, ImageOps, UnidentifiedImageError

# A page of A4 at 600 dots an inch has 35 million pixels; three times that is no page any more.
MAX_PIXELS = 100_000_000
# 200 dots an inch on the height of A4: enough to read a form by.
MAX_SIDE = 2300
FORMATS = {"image/jpeg": "JPEG", "image/png": "PNG", "image/tiff": "TIFF", "image/webp": "WEBP"}


def picture_of(path: Path, media_type: str) -> bytes | None:
    """The first picture of the file as a JPEG; None for a PDF, a HEIC, or what cannot be read as its kind."""
    image = opened(path, media_type)
    return None if image is None else _small_jpeg(image)


def opened(path: Path, media_type: str) -> Image.Image | None:
    """The first picture of the file, upright and small enough to work with; None as above.

    SECURITY: the file comes from outside. Its pixels are counted before one of them is unpacked, and no other format
    than the one its first bytes named is tried.
    """
    if media_type not in FORMATS:
        return None
    try:
        with Image.open(path, formats=[FORMATS[media_type]]) as image:
            if image.width * image.height > MAX_PIXELS:
                return None
            image.draft("RGB", (MAX_SIDE, MAX_SIDE))
            upright = ImageOps.exif_transpose(image).convert("RGB")
            upright.thumbnail((MAX_SIDE, MAX_SIDE))
            return upright
    except (UnidentifiedImageError, OSError, SyntaxError, ValueError, EOFError, Image.DecompressionBombError):
        return None


def _small_jpeg(image: Image.Image) -> bytes:
    made = BytesIO()
    image.save(made, "JPEG", quality=80)
    return made.getvalue()
