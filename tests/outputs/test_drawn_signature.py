"""A drawing from a browser is bounded and checked before a paper shows it."""

import random
from collections.abc import Callable
from io import BytesIO

import pytest
from PIL import Image

from intake.outputs.paper.signature import MAX_BYTES, MAX_PIXELS, drawn_signature


def png_of(image: Image.Image, form: str = "PNG") -> bytes:
    stream = BytesIO()
    image.save(stream, form)
    return stream.getvalue()


def test_a_transparent_drawing_is_laid_on_white(drawing: Callable[..., bytes]) -> None:
    picture = drawn_signature(drawing())
    assert (picture.mode, picture.size) == ("RGB", (600, 200))
    assert picture.getpixel((0, 0)) == (255, 255, 255)
    assert picture.getpixel((20, 150)) == (20, 20, 40)


@pytest.mark.parametrize("mode", ["1", "L", "LA", "P", "RGB", "RGBA", "I;16"])
def test_every_kind_of_png_pixel_is_understood(mode: str) -> None:
    assert drawn_signature(png_of(Image.new(mode, (30, 20)))).size == (30, 20)


@pytest.mark.parametrize("form", ["JPEG", "GIF", "BMP", "TIFF"])
def test_other_image_formats_are_refused(form: str) -> None:
    with pytest.raises(ValueError, match="not a PNG"):
        drawn_signature(png_of(Image.new("L", (30, 20)), form))


@pytest.mark.parametrize("data", [b"", b"\x89PNG\r\n\x1a\n", b"<svg/>", b"\x89PNG\r\n\x1a\n" + b"x" * 100])
def test_what_is_no_image_is_refused(data: bytes) -> None:
    with pytest.raises(ValueError, match="not a PNG"):
        drawn_signature(data)


def test_a_small_file_that_unpacks_to_too_many_pixels_is_refused() -> None:
    bomb = png_of(Image.new("1", (20_000, 20_000)))
    assert len(bomb) < MAX_BYTES, "the file itself is small"
    with pytest.raises(ValueError, match=r"pixels|not a PNG"):
        drawn_signature(bomb)


def test_the_limits_themselves_are_allowed() -> None:
    assert drawn_signature(png_of(Image.new("1", (2000, MAX_PIXELS // 2000)))).width == 2000
    with pytest.raises(ValueError, match="pixels"):
        drawn_signature(png_of(Image.new("1", (2000, MAX_PIXELS // 2000 + 1))))


def test_a_file_that_is_too_large_is_refused_unread(drawing: Callable[..., bytes]) -> None:
    with pytest.raises(ValueError, match="512 KiB"):
        drawn_signature(drawing() + b"\x00" * MAX_BYTES)


def test_damaged_drawings_are_drawn_or_refused_and_nothing_else(drawing: Callable[..., bytes]) -> None:
    chance, whole = random.Random(2026), drawing()
    refused = 0
    for _ in range(300):
        damaged = bytearray(whole)
        for _ in range(chance.randint(1, 4)):
            damaged[chance.randrange(8, len(damaged))] = chance.randrange(256)
        try:
            drawn_signature(bytes(damaged[: chance.randint(9, len(damaged))]))
        except ValueError:
            refused += 1
    assert refused > 100
