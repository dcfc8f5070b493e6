"""The path that a file has in each store."""

import re
from pathlib import Path
from uuid import UUID


def key_of(file_id: UUID, name: str) -> str:
    """Of its id and the plain ending of its name: always the same, whatever people called it."""
    return f"{file_id.hex[:2]}/{file_id}{_plain_ending(name)}"


def _plain_ending(name: str) -> str:
    """The ending of a name where it is one that any store and program takes, such as ".wav"; else none."""
    ending = Path(name).suffix.lower()
    return ending if re.fullmatch(r"\.[a-z0-9]{1,8}", ending) else ""
