"""Printed papers: functions from a frozen dataclass to the bytes of a PDF; the same data give the same bytes."""

from intake.outputs.paper.fonts import FontsMissingError, register_fonts, undrawable
from intake.outputs.paper.receipt import Receipt, ReceiptPart, SignedTerms, receipt_pdf
from intake.outputs.paper.release import SignedRelease, release_pdf
from intake.outputs.paper.style import Library

__all__ = [
    "FontsMissingError",
    "Library",
    "Receipt",
    "ReceiptPart",
    "SignedRelease",
    "SignedTerms",
    "receipt_pdf",
    "register_fonts",
    "release_pdf",
    "undrawable",
]
