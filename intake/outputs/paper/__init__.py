"""Printed papers: functions from a frozen dataclass to the bytes of a PDF; the same data give the same bytes."""

from intake.outputs.paper.arrival import ArrivalReceipt, ArrivedFile, arrival_pdf
from intake.outputs.paper.fonts import FontsMissingError, register_fonts, undrawable
from intake.outputs.paper.receipt import Receipt, ReceiptPart, SignedTerms, receipt_pdf
from intake.outputs.paper.release import SignedRelease, release_pdf
from intake.outputs.paper.style import Library

__all__ = [
    "ArrivalReceipt",
    "ArrivedFile",
    "FontsMissingError",
    "Library",
    "Receipt",
    "ReceiptPart",
    "SignedRelease",
    "SignedTerms",
    "arrival_pdf",
    "receipt_pdf",
    "register_fonts",
    "release_pdf",
    "undrawable",
]
