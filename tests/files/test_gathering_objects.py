"""Uploads gathered by a real S3-compatible server: each piece a part of a multipart upload, and no disk shared."""

import hashlib
import io
import os

import pytest
from django.core.files.storage import storages
from django.db import transaction

from intake.files import gathering, objects, storage, storing, uploads
from intake.files.keys import key_of
from intake.files.models import Piece, Upload, UploadState
from intake.files.services import is_proven, is_safe
from intake.files.uploads import Checksum, Said
from tests.factories import a_user

pytestmark = [pytest.mark.django_db, pytest.mark.processes]
MIB = 1024**2
CONTENT = os.urandom(13 * MIB + 123)


@pytest.fixture(autouse=True)
def small_pieces(object_stores: None, settings) -> None:
    settings.UPLOAD_PIECE_BYTES = 5 * MIB  # the least that S3 takes for a part


def begin(content: bytes = CONTENT, **said) -> Upload:
    given = {"name": "TOLL0007.WAV", "media_type": "audio/wav", "metadata": "", "length": len(content)}
    return uploads.begin(owner=a_user(), said=Said(**said), **given)


def append(upload: Upload, content: bytes, *, offset: int, checked: bool = True) -> Upload:
    checksum = Checksum("sha256", hashlib.sha256(content).digest()) if checked else None
    return uploads.append(upload.pk, offset=offset, body=io.BytesIO(content), checksum=checksum)


def send(upload: Upload, content: bytes, step: int, *, checked: bool = True) -> None:
    for start in range(0, len(content), step):
        append(upload, content[start : start + step], offset=start, checked=checked)


def primary() -> objects.Objects:
    return objects.of(storages["primary"])


def stored(upload: Upload):
    file = storing.store(upload.pk, lambda share: None)
    upload.refresh_from_db()
    with transaction.atomic():
        storing.close(upload, file)
    return file


def test_each_piece_is_a_part_and_the_whole_appears_when_it_is_stored() -> None:
    upload = begin()
    send(upload, CONTENT, 5 * MIB)
    assert [piece.bytes for piece in upload.pieces.all()] == [5 * MIB, 5 * MIB, 3 * MIB + 123]
    assert primary().size(key_of(upload.pk, upload.name)) is None
    file = stored(upload)
    assert (file.sha256, is_safe(file), is_proven(file)) == (hashlib.sha256(CONTENT).hexdigest(), True, True)
    assert not storage.staging_path(upload.pk).exists()


@pytest.mark.parametrize("step", [MIB, 3 * MIB - 1, 6 * MIB, len(CONTENT)])
@pytest.mark.parametrize("checked", [True, False])
def test_however_it_is_cut_it_arrives_the_same(step: int, checked: bool) -> None:
    """A client may send less than a part, or all at once; S3 takes no part under 5 MiB but the last."""
    upload = begin()
    send(upload, CONTENT, step, checked=checked)
    *parts, last = upload.pieces.all()
    assert all(part.bytes >= 5 * MIB and part.etag for part in parts)
    assert sum(piece.bytes for piece in [*parts, last]) == len(CONTENT)
    file = stored(upload)
    assert (file.sha256, is_proven(file)) == (hashlib.sha256(CONTENT).hexdigest(), checked)


def test_remainders_do_not_stay_behind(settings, django_capture_on_commit_callbacks) -> None:
    upload = begin()
    send(upload, CONTENT[: 4 * MIB], MIB)
    (remainder,) = upload.pieces.all()
    assert (remainder.etag, remainder.bytes) == ("", 4 * MIB)
    with django_capture_on_commit_callbacks(execute=True):
        uploads.stop(upload)
    assert primary().size(f"remainders/{upload.pk}-{remainder.number}") is None
    assert not Piece.objects.exists()


def test_a_damaged_piece_changes_nothing() -> None:
    upload = begin()
    append(upload, CONTENT[: 6 * MIB], offset=0)
    wrong = Checksum("sha256", hashlib.sha256(b"x").digest())
    with pytest.raises(uploads.WrongChecksum):
        uploads.append(upload.pk, offset=6 * MIB, body=io.BytesIO(CONTENT[6 * MIB :]), checksum=wrong)
    append(upload, CONTENT[6 * MIB :], offset=6 * MIB)
    assert stored(upload).sha256 == hashlib.sha256(CONTENT).hexdigest()


def test_a_writer_that_lost_its_turn_changes_nothing() -> None:
    """As after a host that stood still: its lease ran out, another went on, and it wakes up inside its piece."""
    upload = begin()
    sleeper = gathering.place().writing(upload)
    writer = sleeper.__enter__()
    writer.write(CONTENT[: 3 * MIB])
    with pytest.raises(storage.Busy):
        append(upload, CONTENT[: 5 * MIB], offset=0)
    Upload.objects.filter(pk=upload.pk).update(writer_until=upload.started_at)
    append(upload, CONTENT[: 5 * MIB], offset=0)
    with pytest.raises(storage.Busy):
        writer.write(os.urandom(4 * MIB))
    sleeper.__exit__(None, None, None)
    append(upload, CONTENT[5 * MIB :], offset=5 * MIB)
    assert stored(upload).sha256 == hashlib.sha256(CONTENT).hexdigest()


def test_what_differs_from_its_digest_is_taken_away_again() -> None:
    upload = begin(sha256="0" * 64)
    send(upload, CONTENT, 5 * MIB)
    assert storing.store(upload.pk, lambda share: None) is None
    assert primary().size(key_of(upload.pk, upload.name)) is None


@pytest.mark.parametrize("cuts", [(6 * MIB,), (MIB, 2 * MIB, 3 * MIB), (5, 9 * MIB), (12 * MIB,)])
def test_partial_uploads_are_joined_inside_the_store(cuts: tuple[int, ...], settings) -> None:
    owner, partials = a_user(), []
    for start, stop in zip([0, *cuts], [*cuts, len(CONTENT)], strict=True):
        given = {"name": "", "media_type": "", "metadata": "", "length": stop - start}
        partial = uploads.begin(owner=owner, said=Said(is_partial=True), **given)
        send(partial, CONTENT[start:stop], 5 * MIB)
        partials.append(Upload.objects.get(pk=partial.pk))
    upload = uploads.join(partials, owner=owner, name="TOLL0007.WAV", media_type="audio/wav", metadata="")
    uploads.finish_at_once(upload)
    assert upload.state == UploadState.RECEIVED
    assert stored(upload).sha256 == hashlib.sha256(CONTENT).hexdigest()


def test_storing_again_after_a_worker_that_died_gives_the_same_file() -> None:
    upload = begin()
    send(upload, CONTENT, 5 * MIB)
    upload.refresh_from_db()
    gathering.place().into_primary(upload, key_of(upload.pk, upload.name))
    assert stored(upload).sha256 == hashlib.sha256(CONTENT).hexdigest()
