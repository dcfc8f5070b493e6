"""Room for what is handed in: what the disks have free, less what files still on their way will take of it."""

from dataclasses import dataclass
from datetime import timedelta

from django.conf import settings
from django.db.models import F, Q, Sum
from django.utils import timezone

from intake.files import storage
from intake.files.models import Upload, UploadState

# An upload that nobody has gone on with for so long holds no room for itself: it asks again by its next piece.
FORGOTTEN_AFTER = timedelta(days=1)


@dataclass(frozen=True)
class Disk:
    """One disk: the places on it, what is free, and how much of that is spoken for. In bytes."""

    places: tuple[str, ...]
    free_bytes: int
    spoken_for_bytes: int

    @property
    def room_bytes(self) -> int:
        """What may still be handed in: each place on the disk takes a copy of it."""
        return max(self.free_bytes - self.spoken_for_bytes, 0) // len(self.places)


def disks() -> list[Disk]:
    """The disks that a file passes through until it is stored; object storage is none."""
    announced, arrived = _on_their_way()
    return [
        Disk(places, free, announced * len(places) - (arrived if storage.STAGING in places else 0))
        for places, free in storage.disks()
    ]


def room_bytes() -> int:
    """The largest sum of files that can be handed in now and kept."""
    return min(disk.room_bytes for disk in disks())


def is_low() -> bool:
    """Whether people are warned before they begin."""
    return room_bytes() < settings.ROOM_LOW_BYTES


def _on_their_way() -> tuple[int, int]:
    """How many bytes were announced by files not yet stored, and how many of them lie in the staging folder."""
    since = timezone.now() - FORGOTTEN_AFTER
    alive = Q(state=UploadState.RECEIVING) & (Q(started_at__gt=since) | Q(last_piece_at__gt=since))
    uploads = Upload.objects.filter(alive | Q(state=UploadState.RECEIVED))
    sums = uploads.aggregate(announced=Sum(F("length")), arrived=Sum(F("offset")))
    return sums["announced"] or 0, sums["arrived"] or 0
