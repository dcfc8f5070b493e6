"""HTTPS on the local network: a small certificate authority of this computer's own, and its certificate.

Browsers give the microphone and offline pages to HTTPS alone, and no public authority vouches for a computer in a
reading room. Whoever trusts this authority trusts the computer that holds its key.
"""

import ipaddress
import os
import socket
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    load_pem_private_key,
)
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from intake.web.trust import fingerprint_of

AUTHORITY_LASTS = timedelta(days=5 * 365)
# Browsers take no longer ones (CA/Browser Forum baseline requirements, section 6.3.2: 397 days and 398 at most).
CERTIFICATE_LASTS = timedelta(days=397)
RENEWED_BEFORE = timedelta(days=30)
CLOCKS_DIFFER = timedelta(days=1)
# SECURITY: the authority may vouch for nothing else (RFC 5280, section 4.2.1.10), so that a stolen key opens no bank:
# private addresses (RFC 1918), link-local ones (RFC 3927), this computer itself, and names of it.
NETWORKS = tuple(
    map(ipaddress.IPv4Network, ("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "127.0.0.0/8"))
)


@dataclass(frozen=True)
class Certificate:
    """Where the pieces lie, the names and addresses that the certificate is for, and the authority's fingerprint."""

    authority: Path
    certificate: Path
    key: Path
    names: tuple[str, ...]

    @property
    def authority_der(self) -> bytes:
        return x509.load_pem_x509_certificate(self.authority.read_bytes()).public_bytes(Encoding.DER)

    @property
    def fingerprint(self) -> str:
        """The authority's, as phones and browsers show it."""
        return fingerprint_of(self.authority_der)


def lan_addresses() -> list[str]:
    """This computer's private IPv4 addresses, the one that leads outward first."""
    found: list[str] = []
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe, suppress(OSError):  # there may be no way outward
        # Connecting a datagram socket sends nothing: the kernel only says which address it would send from.
        probe.connect(("192.0.2.1", 9))
        found.append(probe.getsockname()[0])
    with suppress(socket.gaierror):  # a name that nobody looks up
        found += [str(info[4][0]) for info in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)]
    return [address for address in dict.fromkeys(found) if _is_lan(address)]


def names_of_this_computer() -> list[str]:
    """Every name and address under which browsers on the local network may reach it."""
    host = socket.gethostname().lower()
    names = [] if host == "localhost" or not _is_name(host) else [host]
    if names and "." not in host:
        names.append(f"{host}.local")
    return [*lan_addresses(), *names, "localhost", "127.0.0.1"]


def certificate_for(folder: Path, names: list[str], *, now: datetime | None = None) -> Certificate:
    """The certificate for these names, made or renewed where needed: near its end, or when names have changed."""
    now = now or datetime.now(UTC)
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    authority = _read(folder / "authority.crt")
    if authority is None or _ends_soon(authority, now) or not _vouches_for(authority, names):
        authority = _make_authority(folder, names, now)
    present = _read(folder / "site.crt")
    if present is None or not _still_good(present, authority, names, now):
        _make_certificate(folder, authority, names, now)
    return Certificate(folder / "authority.crt", folder / "site.crt", folder / "site.key", tuple(names))


def _make_authority(folder: Path, names: list[str], now: datetime) -> x509.Certificate:
    key = ec.generate_private_key(ec.SECP256R1())
    called = f"Oral history intake on {socket.gethostname()[:20]}, {now:%Y-%m-%d %H:%M}"  # 64 characters at most
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, called)])
    permitted: list[x509.GeneralName] = [x509.IPAddress(network) for network in NETWORKS]
    permitted += [x509.DNSName(name) for name in _dns_names(names)]
    made = (
        _begun(subject, subject, key.public_key(), now, AUTHORITY_LASTS)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(signs_certificates=True), critical=True)
        .add_extension(x509.NameConstraints(permitted, None), critical=True)
        .sign(key, SHA256())
    )
    _keep_key(folder / "authority.key", key)
    (folder / "authority.crt").write_bytes(made.public_bytes(Encoding.PEM))
    return made


def _make_certificate(folder: Path, authority: x509.Certificate, names: list[str], now: datetime) -> None:
    signing = load_pem_private_key((folder / "authority.key").read_bytes(), password=None)
    assert isinstance(signing, ec.EllipticCurvePrivateKey)
    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, names[0][:64])])
    made = (
        _begun(subject, authority.subject, key.public_key(), now, CERTIFICATE_LASTS)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(signs_certificates=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectAlternativeName([_general_name(name) for name in names]), critical=False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(signing.public_key()), critical=False)
        .sign(signing, SHA256())
    )
    _keep_key(folder / "site.key", key)
    (folder / "site.crt").write_bytes(made.public_bytes(Encoding.PEM))


def _begun(
    subject: x509.Name, issuer: x509.Name, public: ec.EllipticCurvePublicKey, now: datetime, lasts: timedelta
) -> x509.CertificateBuilder:
    begins = now - CLOCKS_DIFFER
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(public)
        .serial_number(x509.random_serial_number())
        .not_valid_before(begins)
        .not_valid_after(begins + lasts)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(public), critical=False)
    )


def _usage(*, signs_certificates: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not signs_certificates,
        key_cert_sign=signs_certificates,
        crl_sign=signs_certificates,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        encipher_only=False,
        decipher_only=False,
    )


def _keep_key(path: Path, key: ec.EllipticCurvePrivateKey) -> None:
    """SECURITY: never readable by anybody else, not even for the moment of writing."""
    content = key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    path.unlink(missing_ok=True)
    with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
        file.write(content)


def _read(path: Path) -> x509.Certificate | None:
    """None where a piece or its key is missing."""
    if not path.exists() or not path.with_suffix(".key").exists():
        return None
    return x509.load_pem_x509_certificate(path.read_bytes())


def _still_good(present: x509.Certificate, authority: x509.Certificate, names: list[str], now: datetime) -> bool:
    is_for_them = _names_in(present) == set(names) and _is_signed_by(present, authority)
    return is_for_them and not _ends_soon(present, now)


def _ends_soon(certificate: x509.Certificate, now: datetime) -> bool:
    return certificate.not_valid_after_utc - now < RENEWED_BEFORE


def _is_signed_by(certificate: x509.Certificate, authority: x509.Certificate) -> bool:
    key = certificate.extensions.get_extension_for_class(x509.AuthorityKeyIdentifier).value.key_identifier
    return key == authority.extensions.get_extension_for_class(x509.SubjectKeyIdentifier).value.digest


def _vouches_for(authority: x509.Certificate, names: list[str]) -> bool:
    """Whether the authority may sign for all of these names; addresses are all of NETWORKS."""
    permitted = authority.extensions.get_extension_for_class(x509.NameConstraints).value.permitted_subtrees or []
    known = {name.value for name in permitted if isinstance(name, x509.DNSName)}
    return set(_dns_names(names)) <= known


def _names_in(certificate: x509.Certificate) -> set[str]:
    names = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    return {str(name.value) for name in names}


def _dns_names(names: list[str]) -> list[str]:
    return [name for name in names if isinstance(_general_name(name), x509.DNSName)]


def _general_name(name: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ipaddress.IPv4Address(name))
    except ValueError:
        return x509.DNSName(name)


def _is_lan(address: str) -> bool:
    parsed = ipaddress.IPv4Address(address)
    return any(parsed in network for network in NETWORKS) and not parsed.is_loopback


def _is_name(host: str) -> bool:
    """Whether it can stand in a certificate: letters, digits, hyphens and dots (RFC 1123, section 2.1)."""
    return host.isascii() and all(label and label.strip("-").replace("-", "").isalnum() for label in host.split("."))
