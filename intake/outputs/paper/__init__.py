"""Printed papers: functions from a frozen dataclass to the bytes of a PDF; the same data give the same bytes."""

from intake.outputs.paper.arrival import ArrivalReceipt, ArrivedFile, arrival_pdf
from intake.outputs.paper.fonts import FontsMissingError, register_fonts, undrawable
from intake.outputs.paper.labels import Label, labels_pdf
from intake.outputs.paper.letter import WrittenLetter, letter_pdf
from intake.outputs.paper.printed_form import FormToSign, printed_form_pdf
from intake.outputs.paper.quality import Heard, Place, QualityReport, quality_pdf
from intake.outputs.paper.receipt import Receipt, ReceiptAttachment, ReceiptPart, SignedTerms, receipt_pdf
from intake.outputs.paper.release import AGREEMENT_KIND, OnPaper, OnScreen, ScannedPage, SignedRelease, release_pdf
from intake.outputs.paper.style import Issue, Library

__all__ = [
    "AGREEMENT_KIND",
    "ArrivalReceipt",
    "ArrivedFile",
    "FontsMissingError",
    "FormToSign",
    "Heard",
    "Issue",
    "Label",
    "Library",
    "OnPaper",
    "OnScreen",
    "Place",
    "QualityReport",
    "Receipt",
    "ReceiptAttachment",
    "ReceiptPart",
    "ScannedPage",
    "SignedRelease",
    "SignedTerms",
    "WrittenLetter",
    "arrival_pdf",
    "labels_pdf",
    "letter_pdf",
    "printed_form_pdf",
    "quality_pdf",
    "receipt_pdf",
    "register_fonts",
    "release_pdf",
    "undrawable",
]
