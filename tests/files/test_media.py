"""What a file is, is told from its first bytes; what could run as a page is not taken."""

import io
import zipfile

import pytest
from PIL import Image

from intake.errors import Refused
from intake.files import media, uploads
from intake.files.media import WrongKind, media_type_of, recognise
from intake.files.models import Expects, Upload
from tests.factories import a_photograph, a_wav, send


def an_archive(*entries: tuple[str, str]) -> bytes:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w") as archive:
        for name, content in entries:
            archive.writestr(name, content)
    return made.getvalue()


ODT = an_archive(("mimetype", media.ODT), ("content.xml", "<office/>"))
DOCX = an_archive(("[Content_Types].xml", "<Types/>"), ("word/document.xml", "<w/>"))
# The box that ISO/IEC 14496-12, section 4.3, begins a file with, in the brand of a telephone's photographs.
HEIC = b"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic"

KNOWN = [
    (a_photograph(), "a.jpg", "image/jpeg"),
    (a_photograph(form="PNG"), "a.png", "image/png"),
    (a_photograph(form="TIFF"), "a.tif", "image/tiff"),
    (a_photograph(form="WEBP"), "a.webp", "image/webp"),
    (HEIC, "a.heic", "image/heic"),
    (b"%PDF-1.7\n", "a.pdf", "application/pdf"),
    (ODT, "a.odt", media.ODT),
    (DOCX, "a.docx", media.DOCX),
    ("Ångström, notes: “fog”\r\n".encode(), "a.txt", "text/plain"),
    ("\ufeffNotes".encode("utf-16-le"), "a.txt", "text/plain"),
    ("caf\xe9".encode("latin-1"), "a.txt", "text/plain"),
    (b"name,year\nOskarsen,1954\n", "a.CSV", "text/csv"),
]
PAGES = [
    b"<!DOCTYPE html><p>",
    b"  \n<html>",
    b"\xef\xbb\xbf<?xml version='1.0'?>",
    b'<svg xmlns="http://www.w3.org/2000/svg" onload="alert(1)"/>',
    b"just words <script>alert(1)</script>",
    "<html>".encode("utf-16"),
    "\ufeff<svg>".encode("utf-16-be"),
]
STRANGE = [
    b"MZ\x90\x00",
    b"\x7fELF",
    b"GIF89a\x01\x00",
    an_archive(("run.exe", "x")),
    DOCX.replace(b"word/", b"xl/xx"),
    a_wav(),
    b"\x00" * 20,
]


@pytest.mark.parametrize(("content", "name", "media_type"), KNOWN, ids=[name for _, name, _ in KNOWN])
def test_a_file_is_known_by_its_first_bytes(content, name, media_type):
    assert media_type_of(content[: media.HEAD_BYTES], name) == media_type
    assert recognise(Expects.DOCUMENT, content, name) == media_type


@pytest.mark.parametrize("name", ["a.html", "a.txt", "a.jpg", "a.csv", "a.docx"])
@pytest.mark.parametrize("content", PAGES)
def test_what_could_run_as_a_page_is_refused_by_whatever_name(content, name):
    with pytest.raises(WrongKind, match="These are taken"):
        recognise(Expects.DOCUMENT, content, name)


@pytest.mark.parametrize("content", STRANGE)
def test_other_kinds_are_refused(content):
    with pytest.raises(WrongKind):
        recognise(Expects.DOCUMENT, content, "a.bin")


@pytest.mark.parametrize(("content", "name", "media_type"), KNOWN, ids=[name for _, name, _ in KNOWN])
def test_a_scan_is_a_picture_or_a_pdf(content, name, media_type):
    if media_type in media.SCANS:
        assert recognise(Expects.SCAN, content, name) == media_type
    else:
        with pytest.raises(WrongKind, match="photo or scan"):
            recognise(Expects.SCAN, content, name)


def test_a_picture_is_one_whatever_it_is_called():
    assert media_type_of(a_photograph(), "page.html") == "image/jpeg"


# While it arrives


def an_upload_of(owner, content: bytes, *, expects: Expects = Expects.DOCUMENT, name: str = "porch.jpg") -> Upload:
    return uploads.begin(
        owner=owner, name=name, media_type="text/html", length=len(content), metadata="", expects=expects
    )


@pytest.mark.django_db
def test_the_browsers_word_is_not_believed_and_the_bytes_are(volunteer):
    content = a_photograph()
    upload = an_upload_of(volunteer, content)
    assert upload.media_type == "application/octet-stream"
    assert send(upload, content).media_type == "image/jpeg"


@pytest.mark.django_db
def test_the_first_bytes_may_come_in_several_pieces(volunteer):
    content = a_photograph(form="PNG", size=(900, 900))
    assert len(content) > 3
    upload = an_upload_of(volunteer, content)
    assert send(upload, content[:3]).media_type == "application/octet-stream"
    assert send(upload, content[3:], offset=3).media_type == "image/png"


@pytest.mark.django_db
def test_nothing_is_counted_of_a_file_of_the_wrong_kind(volunteer):
    content = b"<html><script>alert(1)</script></html>"
    upload = an_upload_of(volunteer, content)
    send(upload, content[:5])
    with pytest.raises(WrongKind):
        send(upload, content[5:], offset=5)
    upload.refresh_from_db()
    assert (upload.offset, upload.media_type) == (5, "application/octet-stream")


@pytest.mark.django_db
def test_a_scan_has_a_size_that_a_page_can_have(volunteer):
    with pytest.raises(uploads.TooLarge, match="larger than a scan of a page"):
        uploads.begin(
            owner=volunteer, name="a.pdf", media_type="", length=120_000_001, metadata="", expects=Expects.SCAN
        )


@pytest.mark.django_db
def test_an_empty_attachment_is_refused_in_its_own_words(volunteer):
    with pytest.raises(Refused, match="is empty"):
        an_upload_of(volunteer, b"")


def test_pillow_and_we_agree_on_the_pictures_it_writes():
    for content, name, media_type in KNOWN[:4]:
        with Image.open(io.BytesIO(content)) as picture:
            assert picture.get_format_mimetype() == media_type, name
