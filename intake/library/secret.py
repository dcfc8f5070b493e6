"""Keep a password that must be used again, not only compared."""

from base64 import urlsafe_b64encode

from cryptography.fernet import Fernet, InvalidToken
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from django.conf import settings

from intake.errors import Refused

FOR_MAIL = "mail password"


def encrypted(secret: str, purpose: str = FOR_MAIL) -> str:
    """SECURITY: a stolen database alone does not give the secret; the site's secret key is needed as well."""
    return _box(purpose).encrypt(secret.encode()).decode() if secret else ""


def decrypted(kept: str, purpose: str = FOR_MAIL) -> str:
    """Raises Refused when it was encrypted with another secret key."""
    try:
        return _box(purpose).decrypt(kept.encode()).decode() if kept else ""
    except InvalidToken as error:
        raise Refused(
            f"The {purpose} cannot be read: the site's secret key has changed. "
            "The coordinator gives it again on the set-up page."
        ) from error


def _box(purpose: str) -> Fernet:
    """A key for this purpose alone (HKDF, RFC 5869)."""
    kdf = HKDF(algorithm=SHA256(), length=32, salt=None, info=f"intake.library {purpose}".encode())
    return Fernet(urlsafe_b64encode(kdf.derive(settings.SECRET_KEY.encode())))
