"""Where the pieces of an upload are gathered until all of it is here: in a folder, or in an object store.

Which of the two is told by where the primary store is: web hosts that share an object store share nothing else.
"""

from contextlib import AbstractContextManager
from typing import Protocol

from django.core.files.storage import FileSystemStorage, storages

from intake.files.gathering.folder import Folder
from intake.files.gathering.objects import ObjectStore
from intake.files.models import Piece, Upload


class Writer(Protocol):
    """The right to add to one upload, after its offset."""

    fence: str

    def write(self, block: bytes) -> None:
        """Add bytes. Raises OSError, for a full disk among others."""

    def keep(self) -> list[Piece]:
        """Make what was written since the last time last; the rows, not saved yet, that say so beside the offset."""

    def kept(self) -> None:
        """The offset has moved on: what it made superfluous may go."""

    def drop(self) -> None:
        """Forget what was written since the last time it was made to last."""


class Gathering(Protocol):
    """One way of gathering."""

    def writing(self, upload: Upload) -> AbstractContextManager[Writer]:
        """Write to an upload, as the only one. Raises storage.Busy."""

    def first_bytes(self, upload: Upload, count: int) -> bytes:
        """The beginning of what has been kept."""

    def into_primary(self, upload: Upload, key: str) -> None:
        """Make the primary store's copy of a complete upload, or of the partial ones joined in it. Repeatable."""

    def discard(self, upload: Upload) -> None:
        """Free the bytes of an upload; doing it again changes nothing."""


def place() -> Gathering:
    return Folder() if isinstance(storages["primary"], FileSystemStorage) else ObjectStore()
