"""The rules of an upload: pieces in order, nothing counted that is not on the disk, nothing stored that differs."""

import errno
import hashlib
import io

import pytest
from django.db import IntegrityError, transaction
from django.http import UnreadablePostError
from hypothesis import HealthCheck, given
from hypothesis import settings as effort
from hypothesis import strategies as st

from intake.errors import Refused
from intake.files import storage, storing, uploads
from intake.files.models import StoredFile, Upload, UploadState
from intake.jobs.models import Job, Kind
from tests.factories import an_upload, sha256

pytestmark = pytest.mark.django_db
CONTENT = b"0123456789"


def append(upload, content, *, offset=0, checksum=None):
    return uploads.append(upload.pk, offset=offset, body=io.BytesIO(content), checksum=checksum)


def checksum(content: bytes, algorithm: str = "sha256") -> uploads.Checksum:
    return uploads.Checksum(algorithm, hashlib.new(algorithm, content).digest())


def staged(upload) -> bytes:
    return storage.staging_path(upload.pk).read_bytes()


def offset_of(upload) -> int:
    return Upload.objects.get(pk=upload.pk).offset


class BreakingOff(io.RawIOBase):
    """A body whose connection goes away after some bytes, as Django reports it."""

    def __init__(self, content: bytes) -> None:
        self.content = content

    def read(self, size: int = -1) -> bytes:
        if not self.content:
            raise UnreadablePostError("connection reset")
        block, self.content = self.content, b""
        return block


@pytest.fixture
def upload(volunteer):
    return an_upload(volunteer, length=len(CONTENT))


def test_an_upload_begins_with_nothing(upload, volunteer):
    assert (upload.owner, upload.offset, upload.length, upload.state) == (volunteer, 0, 10, UploadState.RECEIVING)


def test_pieces_in_order_make_the_whole(upload):
    append(upload, CONTENT[:4])
    assert offset_of(upload) == 4
    append(upload, CONTENT[4:], offset=4)
    assert (offset_of(upload), staged(upload)) == (10, CONTENT)


@pytest.mark.parametrize("offset", [0, 3, 5, 11])
def test_a_piece_that_does_not_start_where_the_last_ended_is_not_taken(upload, offset):
    append(upload, CONTENT[:4])
    with pytest.raises(uploads.WrongOffset):
        append(upload, CONTENT[4:], offset=offset)
    assert (offset_of(upload), staged(upload)) == (4, CONTENT[:4])


@pytest.mark.parametrize("algorithm", ["sha256", "sha1"])
def test_a_piece_with_the_right_checksum_is_taken(upload, algorithm):
    append(upload, CONTENT[:4], checksum=checksum(CONTENT[:4], algorithm))
    assert offset_of(upload) == 4


@pytest.mark.parametrize("algorithm", ["sha256", "sha1"])
def test_nothing_is_kept_of_a_piece_with_a_wrong_checksum(upload, algorithm):
    append(upload, CONTENT[:4])
    with pytest.raises(uploads.WrongChecksum):
        append(upload, CONTENT[4:], offset=4, checksum=checksum(b"damaged", algorithm))
    assert (offset_of(upload), staged(upload)) == (4, CONTENT[:4])
    append(upload, CONTENT[4:], offset=4, checksum=checksum(CONTENT[4:], algorithm))
    assert staged(upload) == CONTENT


@pytest.mark.parametrize("algorithm", ["md5", "SHA256", "", "sha256 "])
def test_a_checksum_of_another_kind_is_not_understood(algorithm):
    with pytest.raises(ValueError, match=f"^{algorithm}$"):
        uploads.Checksum(algorithm, b"")


def test_what_came_before_the_connection_broke_is_kept(upload):
    uploads.append(upload.pk, offset=0, body=BreakingOff(CONTENT[:7]), checksum=None)
    assert offset_of(upload) == 7
    append(upload, CONTENT[7:], offset=7)
    assert staged(upload) == CONTENT


def test_a_checked_piece_is_all_or_nothing_when_the_connection_breaks(upload):
    with pytest.raises(uploads.WrongChecksum):
        uploads.append(upload.pk, offset=0, body=BreakingOff(CONTENT[:7]), checksum=checksum(CONTENT))
    assert (offset_of(upload), staged(upload)) == (0, b"")


class Grudging(io.BytesIO):
    """A file that takes three bytes at a time: write(2) may write less than it is given."""

    def write(self, block):
        return super().write(bytes(block[:3]))


def test_a_disk_that_takes_little_at_a_time_gets_all_of_it():
    file = Grudging()
    storage.write_block(file, CONTENT)
    assert file.getvalue() == CONTENT


def test_a_disk_that_fills_up_is_told_as_such_and_nothing_is_counted(upload, monkeypatch):
    def full(file, block):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(storage, "write_block", full)
    with pytest.raises(uploads.NoRoom, match="disk is full"):
        append(upload, CONTENT)
    assert offset_of(upload) == 0


def test_a_file_longer_than_announced_is_refused(upload):
    append(upload, CONTENT[:4])
    with pytest.raises(Refused, match="longer than the 10 bytes announced"):
        append(upload, CONTENT[4:] + b"!", offset=4)
    assert offset_of(upload) == 4


def test_what_a_crash_left_after_the_counted_bytes_is_not_mixed_in(upload):
    """The server may die after writing and before counting; the client then sends from the counted offset again."""
    append(upload, CONTENT[:4])
    with storage.staging_path(upload.pk).open("ab") as file:
        file.write(b"never counted")
    append(upload, CONTENT[4:], offset=4)
    assert staged(upload) == CONTENT


def test_only_one_request_writes_to_an_upload_at_a_time(upload):
    with storage.staging_file(upload.pk), pytest.raises(storage.Busy):
        append(upload, CONTENT)
    append(upload, CONTENT)
    assert offset_of(upload) == 10


def test_staged_bytes_are_for_the_site_alone(upload):
    append(upload, CONTENT)
    assert storage.staging_path(upload.pk).stat().st_mode & 0o777 == 0o600


def test_an_empty_file_is_refused(volunteer):
    with pytest.raises(Refused, match="is empty"):
        an_upload(volunteer, length=0)


def test_a_file_over_the_limit_is_refused(volunteer, settings):
    settings.UPLOAD_MAX_BYTES = 10
    assert an_upload(volunteer, length=10)
    with pytest.raises(uploads.TooLarge, match="larger than this site takes in"):
        an_upload(volunteer, length=11)


@pytest.mark.parametrize(
    ("sent", "kept"),
    [
        ("TOLL0007.WAV", "TOLL0007.WAV"),
        ("/media/card/FOLDER01/TOLL0007.WAV", "TOLL0007.WAV"),
        ("C:\\Users\\Tobias\\TOLL0007.WAV", "TOLL0007.WAV"),
        ("../../etc/passwd", "passwd"),
        ("..", "unnamed"),
        (".", "unnamed"),
        ("", "unnamed"),
        ("folder/", "folder"),
        ("two\r\nlines\x00.wav", "twolines.wav"),
        ("Frau Björnsdóttir – Teil 2.wav", "Frau Björnsdóttir – Teil 2.wav"),
        ("x" * 300 + ".wav", "x" * 251 + ".wav"),
    ],
)
def test_a_name_is_kept_as_a_name_alone(sent, kept):
    assert uploads.plain_name(sent) == kept


@given(st.text())
def test_no_name_leads_out_of_its_folder(sent):
    name = uploads.plain_name(sent)
    assert 0 < len(name) <= 255
    assert name not in {".", ".."}
    assert not set(name) & set("/\\\r\n\0")


@pytest.mark.parametrize(
    "media_type", ["", "audio", "text/html\r\nX-Evil: 1", "audio/wav; charset=x", "a/" + "b" * 200]
)
def test_a_media_type_that_is_none_is_left_behind(volunteer, media_type):
    assert an_upload(volunteer, media_type=media_type).media_type == "application/octet-stream"


@pytest.mark.parametrize("media_type", ["audio/wav", "audio/x-wav", "audio/vnd.wave", "audio/MPEG"])
def test_a_media_type_is_kept(volunteer, media_type):
    assert an_upload(volunteer, media_type=media_type).media_type == media_type


@effort(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(content=st.binary(min_size=1, max_size=400), data=st.data())
def test_however_a_file_is_cut_it_arrives_the_same(volunteer, content, data):
    cuts = data.draw(st.lists(st.integers(0, len(content)), max_size=6).map(sorted))
    upload = an_upload(volunteer, length=len(content))
    for start, stop in zip([0, *cuts], [*cuts, len(content)], strict=True):
        append(upload, content[start:stop], offset=start, checksum=checksum(content[start:stop]))
    assert staged(upload) == content


# The digest that the volunteer's own computer worked out


def test_a_file_is_compared_once_all_of_it_and_its_digest_are_there(upload):
    append(upload, CONTENT)
    assert not Job.objects.exists()
    uploads.declare_digest(upload.pk, sha256(CONTENT))
    assert Job.objects.get().kind == Kind.STORE_UPLOAD
    assert Upload.objects.get().state == UploadState.RECEIVED


def test_the_digest_may_come_before_the_last_piece(upload):
    uploads.declare_digest(upload.pk, sha256(CONTENT))
    append(upload, CONTENT[:4])
    assert not Job.objects.exists()
    append(upload, CONTENT[4:], offset=4)
    assert Job.objects.get().subject_id == str(upload.pk)


def test_the_same_digest_may_be_said_again(upload):
    uploads.declare_digest(upload.pk, sha256(CONTENT))
    assert uploads.declare_digest(upload.pk, sha256(CONTENT)).declared_sha256 == sha256(CONTENT)


def test_another_digest_is_refused(upload):
    uploads.declare_digest(upload.pk, sha256(CONTENT))
    with pytest.raises(Refused, match="has changed since"):
        uploads.declare_digest(upload.pk, sha256(b"another"))
    assert Upload.objects.get().declared_sha256 == sha256(CONTENT)


@pytest.mark.parametrize("wrong", ["", "abc", "g" * 64, "A" * 64, "a" * 65, "a" * 64 + "\n"])
def test_what_is_no_digest_is_refused(upload, wrong):
    with pytest.raises(Refused, match="64 hexadecimal digits"):
        uploads.declare_digest(upload.pk, wrong)


@pytest.mark.parametrize("state", ["received", "stored", "stopped"])
def test_no_piece_is_taken_once_an_upload_has_ended(upload, state):
    bring_to(upload, state)
    with pytest.raises(Refused, match="no longer being received"):
        append(upload, b"", offset=offset_of(upload))


def test_a_piece_that_comes_too_late_leaves_nothing_in_the_staging_folder(upload):
    bring_to(upload, "stopped")
    storage.clear_staging(upload.pk)
    with pytest.raises(Refused):
        append(upload, CONTENT)
    assert not storage.staging_path(upload.pk).exists()


def bring_to(upload, state: str) -> None:
    if state == "stopped":
        uploads.stop(upload)
        return
    append(upload, CONTENT)
    uploads.declare_digest(upload.pk, sha256(CONTENT))
    if state == "stored":
        storing.close(upload, storing.store(upload.pk, lambda share: None))


# Comparing and storing


def test_a_received_file_is_kept_under_the_number_of_its_upload(upload):
    bring_to(upload, "received")
    shares = []
    stored = storing.store(upload.pk, shares.append)
    assert (stored.pk, stored.bytes, stored.sha256) == (upload.pk, 10, sha256(CONTENT))
    assert shares == sorted(shares)
    assert shares[-1] == 1.0


def test_storing_twice_stores_once(upload):
    bring_to(upload, "received")
    assert storing.store(upload.pk, lambda share: None) == storing.store(upload.pk, lambda share: None)
    assert StoredFile.objects.count() == 1


def test_a_file_that_differs_from_its_declared_digest_is_not_stored(upload):
    uploads.declare_digest(upload.pk, sha256(b"what the volunteer has"))
    append(upload, CONTENT)
    assert storing.store(upload.pk, lambda share: None) is None
    assert not StoredFile.objects.exists()


def test_the_staged_bytes_go_once_the_file_is_stored(upload, django_capture_on_commit_callbacks):
    bring_to(upload, "received")
    stored = storing.store(upload.pk, lambda share: None)
    with django_capture_on_commit_callbacks() as after_commit:
        storing.close(upload, stored)
    assert storage.staging_path(upload.pk).exists()  # not before it is certain
    for callback in after_commit:
        callback()
    assert not storage.staging_path(upload.pk).exists()


def test_a_stopped_upload_leaves_nothing_behind(upload, django_capture_on_commit_callbacks):
    append(upload, CONTENT[:4])
    with django_capture_on_commit_callbacks(execute=True):
        uploads.stop(upload)
    assert not storage.staging_path(upload.pk).exists()
    assert Upload.objects.get().state == UploadState.STOPPED


def test_a_stored_file_cannot_be_stopped_any_more(upload):
    bring_to(upload, "stored")
    upload.refresh_from_db()
    with pytest.raises(Refused, match="stays with the library"):
        uploads.stop(upload)


def test_an_upload_that_was_stopped_is_not_stored(upload):
    bring_to(upload, "received")
    uploads.stop(upload)
    assert storing.store(upload.pk, lambda share: None) is None
    assert not StoredFile.objects.exists()


def test_the_database_lets_no_upload_hold_more_than_its_length(upload):
    with pytest.raises(IntegrityError, match="upload_holds_no_more_than_its_length"), transaction.atomic():
        Upload.objects.filter(pk=upload.pk).update(offset=11)


def test_the_database_lets_no_upload_be_stored_without_its_file(upload):
    with pytest.raises(IntegrityError, match="stored_upload_points_to_its_file"), transaction.atomic():
        Upload.objects.filter(pk=upload.pk).update(state=UploadState.STORED)
