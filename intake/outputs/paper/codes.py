"""The QR code on the scan or photo of a paper of ours."""

from pathlib import Path

import zxingcpp
from PIL import Image

from intake.outputs.paper.scan import on_each_page

LONGEST = 200
QR_CODES = zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.QRCode)


def addresses_on(path: Path, media_type: str) -> list[str]:
    """What the QR codes on the pages say; none for what cannot be read as its kind. Turned pages are read."""
    return [said for page in on_each_page(path, media_type, _codes_on) for said in page]


def _codes_on(page: Image.Image) -> list[str]:
    found = zxingcpp.read_barcodes(page.convert("L"), formats=QR_CODES)
    return [code.text[:LONGEST] for code in found if code.valid]
