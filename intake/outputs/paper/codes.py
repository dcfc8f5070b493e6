"""The QR code on the scan or photo of a paper of ours."""

from pathlib import Path

import zxingcpp

from intake.outputs.paper.scan import opened

LONGEST = 200
QR_CODES = zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.QRCode)


def addresses_on(path: Path, media_type: str) -> list[str]:
    """What the QR codes on a picture say; none for a PDF, or what cannot be read as its kind. Turned pages are read."""
    image = opened(path, media_type)
    if image is None:
        return []
    found = zxingcpp.read_barcodes(image.convert("L"), formats=QR_CODES)
    return [code.text[:LONGEST] for code in found if code.valid]
