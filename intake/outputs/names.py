"""File names that every file system, archive and program takes."""

import re
import unicodedata
from pathlib import PurePosixPath

LONGEST = 100
# Names of devices, whatever their ending: Windows opens no file of such a name (from memory).
DEVICES = re.compile(r"(con|prn|aux|nul|com[0-9]|lpt[0-9])(\..*)?", re.IGNORECASE)


def safe_name(name: str, *, otherwise: str = "file") -> str:
    """Letters without accents, digits, `-`, `_` and single dots of a name, with its ending; at most LONGEST characters.

    `otherwise` is the stem where none of a name's letters can be written so.
    """
    path = PurePosixPath(_plain(name))
    stem, ending = path.stem.strip("-_."), path.suffix if re.fullmatch(r"\.[A-Za-z0-9]{1,8}", path.suffix) else ""
    stem = (stem or otherwise)[: LONGEST - len(ending)]
    return f"_{stem}{ending}" if DEVICES.fullmatch(stem) else f"{stem}{ending}"


def _plain(name: str) -> str:
    letters = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode()
    return re.sub(r"\.{2,}", ".", re.sub(r"[^A-Za-z0-9._-]+", "-", letters))
