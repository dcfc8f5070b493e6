"""A logo as it came from somebody's computer, made into a small PNG of our own."""

from io import BytesIO
from uuid import uuid4

from PIL import Image, ImageOps, UnidentifiedImageError

from intake.errors import Refused
from intake.files import services as files
from intake.files.models import StoredFile

LARGEST_BYTES = 4_000_000
LARGEST_SIDE = 6000
# Large enough to print at 300 dots per inch in the space that a letterhead gives it (60 by 18 mm).
KEPT_WITHIN = (710, 213)
FORMATS = ("PNG", "JPEG")
NO_PICTURE = "This is not a PNG or JPEG picture that can be read. Export the logo as PNG and try again."


def keep_logo(content: bytes) -> StoredFile:
    """Check, draw anew and store a logo. Raises Refused."""
    return files.keep_bytes(redrawn(content), file_id=uuid4(), name="logo.png", media_type="image/png")


def redrawn(content: bytes) -> bytes:
    """SECURITY: only the pixels are kept; whatever else a file carries (metadata, scripts, trailing bytes) goes."""
    if len(content) > LARGEST_BYTES:
        raise Refused(f"The picture is larger than {LARGEST_BYTES / 1e6:.0f} MB. Save a smaller one.")
    try:
        with Image.open(BytesIO(content), formats=FORMATS) as opened:
            if max(opened.size) > LARGEST_SIDE:  # known before any pixel is decoded
                raise Refused(f"The picture is wider or higher than {LARGEST_SIDE} pixels. Save a smaller one.")
            picture = ImageOps.exif_transpose(opened).convert("RGBA")
    except (Image.DecompressionBombError, UnidentifiedImageError, OSError, SyntaxError, ValueError) as error:
        raise Refused(NO_PICTURE) from error
    picture.thumbnail(KEPT_WITHIN)
    png = BytesIO()
    Image.frombytes("RGBA", picture.size, picture.tobytes()).save(png, "PNG", optimize=True)
    return png.getvalue()
