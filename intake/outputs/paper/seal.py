"""Sign a finished PDF so that a later change shows (PAdES, ETSI EN 319 142-1), and look whether a PDF still holds.

The signature is the library's, not a person's: it proves that the file is as the site made it. It proves the time only
where an outside authority stamped it (RFC 3161).
"""

import hashlib
import re
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import datetime
from io import BytesIO
from typing import TypeVar

from asn1crypto import cms, keys, x509
from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
from pyhanko.pdf_utils.reader import PdfFileReader
from pyhanko.sign.fields import SigSeedSubFilter
from pyhanko.sign.general import SigningError
from pyhanko.sign.signers import PdfSignatureMetadata, SimpleSigner, sign_pdf
from pyhanko.sign.timestamps import HTTPTimeStamper
from pyhanko.sign.validation import validate_pdf_signature
from pyhanko.sign.validation.status import SignatureCoverageLevel
from pyhanko_certvalidator import ValidationContext
from pyhanko_certvalidator.registry import SimpleCertificateStore

T = TypeVar("T")

FIELD = "LibrarySignature"
DIGEST = "sha256"
MOST_SIGNATURES = 5
STAMP_SECONDS = 20  # an authority that says nothing must not hold a worker
# Where a signature stands in a PDF: hexadecimal digits between angle brackets (ISO 32000-2, 12.8.1).
SIGNATURE = re.compile(rb"/Contents\s*<([0-9A-Fa-f]{200,200000})>")


@dataclass(frozen=True)
class Credentials:
    """The certificate and the private key (PKCS #8), both as DER. `others` are certificates between it and its root."""

    certificate: bytes
    key: bytes
    others: tuple[bytes, ...] = ()


@dataclass(frozen=True)
class SealCheck:
    """What looking at a PDF's signature showed. `fault` is a sentence, empty if it holds.

    `certificate_sha256` is the digest of the certificate it was signed with. `stamped_at` is the time that an outside
    authority stamped, None where none did.
    """

    fault: str
    certificate_sha256: str = ""
    stamped_at: datetime | None = None


def sealed(pdf: bytes, credentials: Credentials, *, reason: str, place: str, stamp_url: str = "") -> bytes:
    """The PDF with the signature appended. OSError where the authority at `stamp_url` does not answer as it should."""
    signer = SimpleSigner(
        signing_cert=x509.Certificate.load(credentials.certificate),
        signing_key=keys.PrivateKeyInfo.load(credentials.key),
        cert_registry=SimpleCertificateStore.from_certs(
            [x509.Certificate.load(other) for other in (credentials.certificate, *credentials.others)]
        ),
    )
    metadata = PdfSignatureMetadata(
        field_name=FIELD, md_algorithm=DIGEST, subfilter=SigSeedSubFilter.PADES, reason=reason, location=place or None
    )
    stamper = HTTPTimeStamper(stamp_url, timeout=STAMP_SECONDS) if stamp_url else None
    target = BytesIO()
    try:
        writer = IncrementalPdfFileWriter(BytesIO(pdf))
        _apart(lambda: sign_pdf(writer, metadata, signer, timestamper=stamper, output=target))
    except SigningError as error:
        raise OSError(f"The paper could not be signed: {error}") from error
    return target.getvalue()


def check_seal(pdf: bytes) -> SealCheck:
    """Whether the signature of a PDF holds and covers all of it. It does not say whose certificate that is."""
    try:
        reader = PdfFileReader(BytesIO(pdf), strict=False)
        signatures = reader.embedded_signatures
        if not signatures:
            return SealCheck("The file carries no signature.")
        own = signatures[-1].signer_cert
        # Whether the certificate is one of ours is asked by its digest: no authority has to vouch for it.
        context = ValidationContext(trust_roots=[own], allow_fetching=False)
        status = _apart(lambda: validate_pdf_signature(signatures[-1], context))
        certificate = hashlib.sha256(own.dump()).hexdigest()
    except Exception as error:  # noqa: BLE001 - SECURITY: a file made to break the reader may break it anywhere
        return SealCheck(f"The file or its signature cannot be read: {error}.")
    stamp = status.timestamp_validity
    return SealCheck(
        _fault(status.intact, status.valid, status.coverage),
        certificate,
        stamp.timestamp if stamp and stamp.intact and stamp.valid else None,
    )


def _apart(work: Callable[[], T]) -> T:
    """In a thread of its own: pyHanko runs an event loop, which a thread that runs one already would refuse."""
    with ThreadPoolExecutor(max_workers=1) as pool:
        return pool.submit(work).result()


def certificates_in(pdf: bytes) -> set[str]:
    """The SHA-256 of each certificate that the signatures in a file carry, found without reading the file as a PDF."""
    found: set[str] = set()
    for digits in SIGNATURE.findall(pdf)[:MOST_SIGNATURES]:
        try:
            signed = cms.ContentInfo.load(bytes.fromhex(digits.decode()))["content"]
            found |= {hashlib.sha256(each.chosen.dump()).hexdigest() for each in signed["certificates"]}
        except (ValueError, KeyError, TypeError, AttributeError):
            continue
    return found


def _fault(is_intact: bool, is_valid: bool, coverage: SignatureCoverageLevel | None) -> str:
    if not is_intact:
        return "The file was changed after it was signed."
    if not is_valid:
        return "The signature is not right: it was changed, or made with another key than it says."
    if coverage != SignatureCoverageLevel.ENTIRE_FILE:
        return "Something was added to the file after it was signed."
    return ""
