"""What happens to an upload once all of it is here: compared, kept twice, and only then said to be stored."""

from collections.abc import Callable
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from intake.accounts.models import User
from intake.files import fixity, gathering, services, storage
from intake.files.keys import key_of
from intake.files.models import StoredFile, Upload, UploadState
from intake.files.uploads import MEDIA_TYPE, plain_name
from intake.jobs.models import Kind
from intake.jobs.services import enqueue


def store(upload_id: UUID, progress: Callable[[float], None]) -> StoredFile | None:
    """Keep a received file if it is what its sender declared; None if it differs or was given up. Repeatable."""
    upload = Upload.objects.get(pk=upload_id)
    if upload.state != UploadState.RECEIVED:
        return upload.file
    stored = StoredFile.objects.filter(pk=upload.pk).first()
    if stored:
        return stored
    fixity.prepare("primary")
    gathering.place().into_primary(upload, key_of(upload.pk, upload.name))
    return services.keep_placed(
        file_id=upload.pk,
        name=upload.name,
        media_type=upload.media_type,
        length=upload.length,
        expected_sha256=upload.declared_sha256,
        progress=_share_of(progress, total=upload.length * len(storage.STORES)),
    )


def mark_damaged(upload: Upload) -> bool:
    """Say that what was received differs from what was declared; False if that is no longer the question."""
    waiting = Upload.objects.filter(pk=upload.pk, state=UploadState.RECEIVED)
    return bool(waiting.update(state=UploadState.DAMAGED))


def close(upload: Upload, file: StoredFile) -> None:
    """Point the upload to its stored file; what was gathered goes once that is certain."""
    Upload.objects.filter(pk=upload.pk).update(state=UploadState.STORED, file=file)
    transaction.on_commit(lambda: gathering.place().discard(upload))


def take_in(upload_id: UUID, *, owner: User, name: str, media_type: str, length: int, sha256: str) -> Upload:
    """A file of this computer that has been copied to the staging folder; it is compared and stored like any other."""
    now = timezone.now()
    upload = Upload.objects.create(
        id=upload_id,
        owner=owner,
        name=plain_name(name),
        media_type=media_type if MEDIA_TYPE.fullmatch(media_type) else "application/octet-stream",
        length=length,
        offset=length,
        declared_sha256=sha256,
        state=UploadState.RECEIVED,
        last_piece_at=now,
        expires_at=now,  # it is complete: nothing is waited for
    )
    enqueue(Kind.STORE_UPLOAD, upload.pk)
    return upload


def _share_of(progress: Callable[[float], None], *, total: int) -> storage.Progress:
    done = [0]

    def add(count: int) -> None:
        done[0] += count
        progress(min(done[0] / total, 1.0))

    return add
