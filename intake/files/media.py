"""What a file is, told from its first bytes: neither its name nor the browser's word is believed.

SECURITY: what could run as a page or a program (HTML, SVG, XML, scripts in them) is not among the kinds that are taken.
"""

import codecs

from intake.errors import Refused
from intake.files.models import Expects

HEAD_BYTES = 4096  # a docx names its own kind within the first entries of its archive (from memory)

JPEG, PNG, TIFF, WEBP, HEIC = "image/jpeg", "image/png", "image/tiff", "image/webp", "image/heic"
PDF, TEXT, CSV = "application/pdf", "text/plain", "text/csv"
DOCX = "application/vnd.openxmlformats-officedocument.wordprocessingml.document"
ODT = "application/vnd.oasis.opendocument.text"

SCANS = frozenset({PDF, JPEG, PNG, TIFF, WEBP, HEIC})
DOCUMENTS = SCANS | {TEXT, CSV, DOCX, ODT}
TAKEN = {Expects.SCAN: SCANS, Expects.DOCUMENT: DOCUMENTS}
IN_WORDS = {
    Expects.SCAN: "Hand the form in as a photo or scan: JPEG, PNG, TIFF, WEBP, HEIC or PDF.",
    Expects.DOCUMENT: "These are taken: photographs (JPEG, PNG, TIFF, WEBP, HEIC), PDF, plain text, CSV, and text "
    "documents as DOCX or ODT.",
}

SIGNATURES = (
    (b"%PDF-", PDF),
    (b"\xff\xd8\xff", JPEG),
    (b"\x89PNG\r\n\x1a\n", PNG),
    (b"II*\0", TIFF),
    (b"MM\0*", TIFF),
    (b"II+\0", TIFF),  # BigTIFF
    (b"MM\0+", TIFF),
)
# Brands of ISO/IEC 23008-12, annex B, with HEVC-coded pictures; mif1 is the container's own.
HEIC_BRANDS = {b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1"}
ZIP = b"PK\x03\x04"
OFFICE_ENTRIES = (b"[Content_Types].xml", b"_rels/.rels", b"word/")
# What makes a browser that guesses take text for a page (WHATWG MIME Sniffing, section 7.1), and XML as a whole.
PAGES = (b"<!doctype", b"<html", b"<head", b"<body", b"<script", b"<iframe", b"<svg", b"<?xml")
CONTROLS = bytes(code for code in range(32) if code not in b"\t\n\r\f\x1b") + b"\x7f"


class WrongKind(Refused):
    """The file is not of a kind that is taken here."""


def media_type_of(head: bytes, name: str) -> str:
    """The media type of a file that begins with these bytes; "" if it is none of those that are known here."""
    for signature, media_type in SIGNATURES:
        if head.startswith(signature):
            return media_type
    if head[:4] == b"RIFF" and head[8:12] == b"WEBP":
        return WEBP
    if head[4:8] == b"ftyp" and head[8:12] in HEIC_BRANDS:
        return HEIC
    if head.startswith(ZIP):
        return _text_document(head, name)
    return _plain_text(head, name)


def recognise(expects: str, head: bytes, name: str) -> str:
    """The media type of a file of an expected kind. Raises WrongKind."""
    media_type = media_type_of(head, name)
    if media_type not in TAKEN[Expects(expects)]:
        raise WrongKind(f"“{name}” is not a file that can be taken here. {IN_WORDS[Expects(expects)]}")
    return media_type


def _text_document(head: bytes, name: str) -> str:
    """ODF 1.3, part 2, section 3.3: the kind stands first, uncompressed. A docx is an Office package by that name."""
    if head[30:].startswith(b"mimetype" + ODT.encode() + ZIP[:2]):
        return ODT
    is_office = any(entry in head for entry in OFFICE_ENTRIES)
    return DOCX if is_office and name.lower().endswith(".docx") else ""


def _plain_text(head: bytes, name: str) -> str:
    is_wide = head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    text = head.decode("utf-16", "replace").encode() if is_wide else head
    plain = text.removeprefix(codecs.BOM_UTF8).lstrip().lower()
    if any(code in CONTROLS for code in plain) or plain.startswith(b"<") or any(page in plain for page in PAGES):
        return ""
    return CSV if name.lower().endswith(".csv") else TEXT
