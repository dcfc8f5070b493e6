"""The logo: checked, drawn anew, stored twice, shown to everybody and printed."""

import struct
import zlib
from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from PIL import Image
from pypdf import PdfReader

from intake.errors import Refused
from intake.files import storage
from intake.files.services import is_safe
from intake.library import services as libraries
from intake.library.logo import keep_logo, redrawn
from intake.outputs.models import Output, OutputKind
from tests.factories import an_interview, describe_the_library, run_jobs, sign_everybody
from tests.pages import signed_in


def a_picture(kind: str = "PNG", size: tuple[int, int] = (1200, 300), **told: object) -> bytes:
    file = BytesIO()
    Image.new("RGB", size, (11, 90, 107)).save(file, kind, **told)
    return file.getvalue()


def _a_bomb() -> bytes:
    """A PNG whose header promises 40 000 by 40 000 pixels (ISO/IEC 15948, 11.2.2); Pillow stops at its own limit."""
    content = bytearray(a_picture(size=(1, 1)))
    content[16:24] = struct.pack(">II", 40_000, 40_000)
    content[29:33] = struct.pack(">I", zlib.crc32(content[12:29]))
    return bytes(content)


@pytest.mark.parametrize("kind", ["PNG", "JPEG"])
def test_a_picture_is_drawn_anew_small(kind: str):
    with Image.open(BytesIO(redrawn(a_picture(kind)))) as drawn:
        assert drawn.format == "PNG"
        assert drawn.size == (710, 178)


def test_nothing_but_the_pixels_is_kept():
    exif = Image.Exif()
    exif[0x010E] = "a secret note"  # Exif 2.32: ImageDescription
    content = a_picture("JPEG", exif=exif) + b"<script>alert(1)</script>"
    assert b"secret" in content
    drawn = redrawn(content)
    assert b"secret" not in drawn
    assert b"script" not in drawn


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"", "not a PNG or JPEG"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'><script>1</script></svg>", "not a PNG or JPEG"),
        (a_picture("GIF"), "not a PNG or JPEG"),
        (a_picture()[:200], "not a PNG or JPEG"),
        (a_picture(size=(6001, 10)), "6000 pixels"),
        (_a_bomb(), "not a PNG or JPEG"),
        (b"\x89PNG" + bytes(4_000_001), "larger than 4 MB"),
    ],
    ids=["empty", "svg", "gif", "cut off", "wide", "bomb", "large"],
)
def test_what_is_no_picture_of_a_logo_is_refused(content: bytes, told: str):
    with pytest.raises(Refused, match=told):
        redrawn(content)


@pytest.mark.django_db
def test_the_logo_is_stored_twice_and_shown_at_the_head_of_pages_with_the_librarys_name(coordinator):
    describe_the_library(coordinator)
    upload = SimpleUploadedFile("logo.png", a_picture(), "image/png")
    signed_in(coordinator).post(reverse("desk:set-up-logo"), {"logo": upload})
    logo = libraries.current().logo
    assert is_safe(logo)
    page = Client().get(reverse("account_login")).content.decode()
    address = reverse("logo", args=[logo.pk])
    assert f'src="{address}" alt="Alder Ferry Public Library"' in page
    answer = Client().get(address)
    assert answer["Content-Type"] == "image/png"
    assert b"".join(answer.streaming_content).startswith(b"\x89PNG")


@pytest.mark.django_db
def test_a_logo_that_is_no_longer_shown_is_not_served(coordinator):
    old = keep_logo(a_picture())
    libraries.show_logo(old, actor=coordinator)
    libraries.show_logo(None, actor=coordinator)
    assert Client().get(reverse("logo", args=[old.pk])).status_code == 404


@pytest.mark.django_db
def test_papers_carry_the_logo_the_place_and_the_address(coordinator):
    describe_the_library(coordinator)
    libraries.show_logo(keep_logo(a_picture()), actor=coordinator)
    sign_everybody(an_interview())
    run_jobs()
    paper = Output.objects.filter(kind=OutputKind.RELEASE_COPY).first().file
    with storage.open_copy("primary", paper.key) as copy:
        page = PdfReader(BytesIO(copy.read())).pages[0]
    assert next((image.image.width, image.image.height) for image in page.images) == (710, 178)
    words = " ".join(page.extract_text().split())
    assert "Local History Room, Alder Ferry" in words
    assert "3 Landing Lane" in words
