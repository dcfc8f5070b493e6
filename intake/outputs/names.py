"""File names that every file system, archive and program takes."""

import re
from pathlib import PurePosixPath

from anyascii import anyascii

LONGEST = 100
ENDING = re.compile(r"[^.]\.[A-Za-z0-9]{1,8}$")
# Names of devices, whatever their ending: Windows opens no file of such a name (from memory).
DEVICES = re.compile(r"(con|prn|aux|nul|com[0-9]|lpt[0-9])(\..*)?", re.IGNORECASE)


def safe_name(name: str, *, otherwise: str = "file") -> str:
    """A name in plain Latin letters, digits, `-`, `_` and single dots, with its ending; at most LONGEST characters.

    Other letters are written as they sound. `otherwise` is the stem where nothing is left.
    """
    plain = _plain(name)
    ending = PurePosixPath(plain).suffix if ENDING.search(plain) else ""
    stem = (plain.removesuffix(ending).rstrip("-_.") or otherwise)[: LONGEST - len(ending)]
    return f"_{stem}{ending}" if DEVICES.fullmatch(stem) else f"{stem}{ending}"


def _plain(name: str) -> str:
    plain = re.sub(r"[^A-Za-z0-9._-]+", "-", anyascii(name))
    return re.sub(r"([-.])[-.]+", r"\1", plain).strip("-_.")
