"""Open a stored file for somebody who wants it now: from the first store that can give it."""

from typing import BinaryIO

from intake.files import audits, storage
from intake.files.models import StoredFile, Why
from intake.files.stores import FAULTS, stands


def can_be_given(file: StoredFile) -> bool:
    """Whether the primary store answers and has something under the file's key, for others to send it from there."""
    try:
        return stands(storage.STORES[0], file.key)
    except FAULTS:
        return False


def open_copy(file: StoredFile, start: int = 0) -> BinaryIO:
    """The primary copy, open from `start`; another store's where that cannot be opened, and a reading of both begins.

    Raises what the primary store said if no store can give the file.
    """
    try:
        return storage.open_copy(storage.STORES[0], file.key, start)
    except FAULTS:
        audits.ask(about=f"files.storedfile:{file.pk}", actor=None, why=Why.SERVED)
        for store in storage.STORES[1:]:
            try:
                return storage.open_copy(store, file.key, start)
            except FAULTS:
                continue
        raise
