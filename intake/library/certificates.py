"""The certificate with which the site signs its papers: its own, made when it is first needed, or the library's."""

import hashlib
from datetime import UTC, datetime, timedelta

from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.asymmetric.types import PrivateKeyTypes
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat
from cryptography.hazmat.primitives.serialization.pkcs12 import load_pkcs12
from cryptography.x509.oid import NameOID
from django.db import transaction
from django.utils import timezone

from intake.accounts.models import Role, User
from intake.audit.actions import Action
from intake.audit.services import record
from intake.errors import Refused
from intake.library.models import Library, SigningCertificate
from intake.library.secret import decrypted, encrypted
from intake.library.services import current

PURPOSE = "signing key"
# As long as such papers are asked about by people who hold them (common practice, no source).
LASTS = timedelta(days=20 * 365)
LONGEST_NAME = 64  # X.520's upper bound for a common name


@transaction.atomic
def in_force() -> SigningCertificate:
    """The newest certificate; the site's own is made where there is none yet."""
    Library.objects.get_or_create(pk=1)
    Library.objects.select_for_update().get(pk=1)  # two papers at once must not make two certificates
    return SigningCertificate.objects.order_by("-pk").first() or _make()


def key_of(certificate: SigningCertificate) -> bytes:
    """Its private key as PKCS #8 DER. Raises Refused where the site's secret key has changed."""
    return bytes.fromhex(decrypted(certificate.key_encrypted, PURPOSE))


def is_ours(certificate_sha256: str) -> bool:
    """Whether a certificate is one that this site signs, or has signed, with."""
    return SigningCertificate.objects.filter(sha256=certificate_sha256).exists()


@transaction.atomic
def bring(pkcs12: bytes, *, password: str, actor: User) -> SigningCertificate:
    """Sign with the library's own certificate from now on. What was signed before stays as it is."""
    if actor.role != Role.COORDINATOR:
        raise Refused("Only the coordinator changes the certificate with which papers are signed.")
    try:
        bundle = load_pkcs12(pkcs12, password.encode() or None)
    except ValueError as error:
        raise Refused(
            "The file cannot be opened: it is no PKCS #12 file (.p12 or .pfx), or the password is another."
        ) from error
    if bundle.key is None or bundle.cert is None:
        raise Refused("The file holds no private key with its certificate.")
    certificate = bundle.cert.certificate
    if certificate.not_valid_after_utc <= timezone.now():
        raise Refused("This certificate has expired.")
    others = b"".join(extra.certificate.public_bytes(Encoding.PEM) for extra in bundle.additional_certs)
    kept = _keep(certificate, bundle.key, others=others.decode(), actor=actor)
    record(actor=actor, action=Action.CERTIFICATE_BROUGHT, subject=kept, sha256=kept.sha256, subject_name=kept.subject)
    return kept


def _make() -> SigningCertificate:
    """A certificate that the site issues to itself: it shows that a paper was changed, and vouches for nobody."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, current().name[:LONGEST_NAME])])
    now = datetime.now(UTC)
    usage = x509.KeyUsage(
        digital_signature=True,
        content_commitment=True,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=False,
        crl_sign=False,
        encipher_only=False,
        decipher_only=False,
    )
    certificate = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(minutes=5))
        .not_valid_after(now + LASTS)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(usage, critical=True)
        .sign(key, hashes.SHA256())
    )
    kept = _keep(certificate, key, others="", actor=None)
    record(actor=None, action=Action.CERTIFICATE_MADE, subject=kept, sha256=kept.sha256, subject_name=kept.subject)
    return kept


def _keep(
    certificate: x509.Certificate, key: PrivateKeyTypes, *, others: str, actor: User | None
) -> SigningCertificate:
    plain = key.private_bytes(Encoding.DER, PrivateFormat.PKCS8, NoEncryption())
    der = certificate.public_bytes(Encoding.DER)
    return SigningCertificate.objects.create(
        certificate_pem=certificate.public_bytes(Encoding.PEM).decode(),
        others_pem=others,
        key_encrypted=encrypted(plain.hex(), PURPOSE),
        sha256=hashlib.sha256(der).hexdigest(),
        subject=certificate.subject.rfc4514_string()[:500],
        ends_at=certificate.not_valid_after_utc,
        brought_by=actor,
    )
