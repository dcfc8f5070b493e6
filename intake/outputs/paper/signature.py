"""A drawn signature as it arrives from a browser: checked, bounded and laid on white before a paper shows it."""

from io import BytesIO

from PIL import Image, UnidentifiedImageError

MAX_BYTES = 512 * 1024
MAX_PIXELS = 4_000_000
PNG_SIGNATURE = b"\x89PNG\r\n\x1a\n"
REFUSAL = "The drawn signature is not a PNG image that can be printed."


def drawn_signature(png: bytes) -> Image.Image:
    """The drawing on white (RGB), or ValueError for anything but a PNG of at most 512 KiB and 4 million pixels.

    SECURITY: the bytes come from outside. Size and pixel count are bounded before a single pixel is unpacked, and no
    other image format is tried.
    """
    if not png.startswith(PNG_SIGNATURE):
        raise ValueError(REFUSAL)
    if len(png) > MAX_BYTES:
        raise ValueError(f"The drawn signature is larger than {MAX_BYTES // 1024} KiB.")
    try:
        with Image.open(BytesIO(png), formats=["PNG"]) as image:
            _refuse_too_many_pixels(image)
            return _on_white(image)
    except (UnidentifiedImageError, OSError, SyntaxError, EOFError, Image.DecompressionBombError) as problem:
        raise ValueError(REFUSAL) from problem


def _refuse_too_many_pixels(image: Image.Image) -> None:
    if image.width * image.height > MAX_PIXELS:
        raise ValueError(f"The drawn signature has more than {MAX_PIXELS:,} pixels.")


def _on_white(image: Image.Image) -> Image.Image:
    drawing = image.convert("RGBA")
    sheet = Image.new("RGBA", drawing.size, "white")
    return Image.alpha_composite(sheet, drawing).convert("RGB")
