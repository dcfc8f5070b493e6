"""Secrets and numbers that people carry: links, kit codes, check numbers."""

import hashlib
import secrets

# No 0/O, 1/I/L, U/V: read aloud over a telephone and written on a card (common practice, no source).
ALPHABET = "23456789ABCDEFGHJKMNPQRSTWXYZ"


def readable_code(groups: int = 2, length: int = 4) -> str:
    """A random code such as K7QM-3XWD; two groups of four hold 38 bits."""
    return "-".join("".join(secrets.choice(ALPHABET) for _ in range(length)) for _ in range(groups))


def link_token() -> str:
    """A secret for a link: 256 random bits in letters that need no escaping."""
    return secrets.token_urlsafe(32)


def digest_of(secret: str) -> str:
    """What is kept of a secret.

    Its SHA-256, so that a stolen database opens nothing. Case and hyphens do not matter in codes.
    """
    return hashlib.sha256(secret.encode()).hexdigest()


def normal_code(typed: str) -> str:
    """A code as typed by a person, brought to the form it was made in."""
    letters = "".join(character for character in typed.upper() if character.isalnum())
    return "-".join(letters[start : start + 4] for start in range(0, len(letters), 4))
