"""Printed papers: functions from a frozen dataclass to the bytes of a PDF; the same data give the same bytes."""

from intake.outputs.paper.arrival import ArrivalReceipt, ArrivedFile, arrival_pdf
from intake.outputs.paper.fonts import FontsMissingError, register_fonts, undrawable
from intake.outputs.paper.receipt import Receipt, ReceiptAttachment, ReceiptPart, SignedTerms, receipt_pdf
from intake.outputs.paper.release import AGREEMENT_KIND, OnPaper, OnScreen, ScannedPage, SignedRelease, release_pdf
from intake.outputs.paper.release_form import FormToSign, release_form_pdf
from intake.outputs.paper.style import Library

__all__ = [
    "AGREEMENT_KIND",
    "ArrivalReceipt",
    "ArrivedFile",
    "FontsMissingError",
    "FormToSign",
    "Library",
    "OnPaper",
    "OnScreen",
    "Receipt",
    "ReceiptAttachment",
    "ReceiptPart",
    "ScannedPage",
    "SignedRelease",
    "SignedTerms",
    "arrival_pdf",
    "receipt_pdf",
    "register_fonts",
    "release_form_pdf",
    "release_pdf",
    "undrawable",
]
