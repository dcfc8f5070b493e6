"""Room for what is handed in: free bytes, less what is announced and not yet arrived."""

from datetime import timedelta

import pytest
from django.utils import timezone

from intake.files import room, storage, uploads
from intake.files.models import Upload
from tests.factories import an_upload, send

pytestmark = pytest.mark.django_db
ALL_ON_ONE = ("staging", "primary", "replica")


@pytest.fixture
def disks(monkeypatch):
    """Disks as large as a test says: (places, free bytes) of each."""

    def are(*given: tuple[tuple[str, ...], int]) -> None:
        monkeypatch.setattr(storage, "disks", lambda: list(given))

    return are


def test_every_real_disk_is_looked_at_once():
    (disk,) = storage.disks()  # one temporary folder of the test's run holds all three
    assert (disk[0], disk[1] > 0) == (ALL_ON_ONE, True)


def test_a_file_is_refused_when_its_three_copies_would_not_fit(volunteer, disks):
    disks((ALL_ON_ONE, 30))
    with pytest.raises(uploads.NoRoom, match="has 11 bytes, and the library's disk has room for 10 bytes"):
        an_upload(volunteer, length=11)
    assert an_upload(volunteer, length=10)


def test_announced_bytes_are_spoken_for_until_they_have_arrived(volunteer, disks):
    disks((ALL_ON_ONE, 60))
    upload = an_upload(volunteer, length=10)
    assert room.room_bytes() == 10
    send(upload, b"01234")
    disks((ALL_ON_ONE, 55))  # five bytes are on the disk now, and no longer to come
    assert room.room_bytes() == 10
    uploads.stop(upload)
    disks((ALL_ON_ONE, 60))
    assert room.room_bytes() == 20


def test_what_nobody_goes_on_with_holds_no_room(volunteer, disks):
    disks((ALL_ON_ONE, 60))
    upload = an_upload(volunteer, length=10)
    Upload.objects.filter(pk=upload.pk).update(started_at=timezone.now() - timedelta(days=2))
    assert room.room_bytes() == 20
    send(upload, b"0")
    assert room.room_bytes() == (60 - (30 - 1)) // 3


def test_the_smallest_disk_decides(disks):
    disks((("staging",), 100), (("primary", "replica"), 60))
    assert room.room_bytes() == 30
    disks((("staging",), 5), (("primary", "replica"), 60))
    assert room.room_bytes() == 5


def test_a_disk_that_promised_more_than_it_has_has_no_room(volunteer, disks):
    disks((ALL_ON_ONE, 30))
    an_upload(volunteer, length=10)
    disks((ALL_ON_ONE, 3))
    assert room.room_bytes() == 0


def test_little_room_is_a_matter_of_the_setting(disks, settings):
    settings.ROOM_LOW_BYTES = 10
    disks((ALL_ON_ONE, 30))
    assert not room.is_low()
    disks((ALL_ON_ONE, 29))
    assert room.is_low()
