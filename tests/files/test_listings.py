"""What lies in the stores held against the register of files, in few queries and little memory."""

import os
import tracemalloc
from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from intake.audit.models import Event
from intake.errors import Refused
from intake.files import listings, stores
from intake.files.models import StoredCopy, StoredFile, UnexpectedObject, Upload, UploadState
from tests.factories import an_archivist, an_upload, at_time, later, sha256
from tests.files.damage import Folder

pytestmark = pytest.mark.django_db


def suspects() -> set[tuple[str, str]]:
    return set(StoredCopy.objects.filter(is_suspect=True).values_list("store", "file__key"))


def leave(place: Folder, key: str, content: bytes = b"who knows", *, days_ago: float = 2) -> None:
    place.write(key, content)
    then = (timezone.now() - timedelta(days=days_ago)).timestamp()
    os.utime(place.path(key), (then, then))


def test_nothing_is_said_of_stores_that_are_as_they_should_be(file, folders):
    told = listings.compare("primary")
    assert (told.listed, told.suspect, told.unexpected, told.broken_off) == (1, 0, 0, 0)
    assert suspects() == set()
    assert listings.unexpected() == []


def test_a_missing_copy_is_suspect_in_its_store_alone(file, folders, a_file):
    a_file(b"another")
    folders["replica"].delete(file.key)
    assert listings.compare("replica").suspect == 1
    assert listings.compare("primary").suspect == 0
    assert suspects() == {("replica", file.key)}


def test_a_whole_folder_of_copies_that_is_gone_is_noticed(file, folders):
    folders["replica"].delete(file.key)
    folders["replica"].path(file.key).parent.rmdir()
    assert listings.compare("replica").suspect == 1


@pytest.mark.parametrize("length", [0, 9, 11])
def test_a_copy_of_another_size_is_suspect(folders, a_file, length):
    file = a_file(b"0123456789")
    folders["primary"].write(file.key, b"x" * length)
    listings.compare("primary")
    assert suspects() == {("primary", file.key)}


def test_a_link_or_a_folder_in_the_place_of_a_copy_is_suspect(folders, a_file, tmp_path):
    linked, covered = a_file(b"0123456789"), a_file(b"9876543210")
    for file in (linked, covered):
        folders["primary"].delete(file.key)
    (tmp_path / "elsewhere").write_bytes(b"0123456789")
    folders["primary"].path(linked.key).symlink_to(tmp_path / "elsewhere")
    folders["primary"].path(covered.key).mkdir()
    listings.compare("primary")
    assert suspects() == {("primary", linked.key), ("primary", covered.key)}


@pytest.mark.parametrize("key", ["00/holiday.jpg", "holiday.jpg", "papers/2026/list.txt"])
def test_something_without_a_row_is_listed_and_left_where_it_is(file, folders, key):
    leave(folders["replica"], key)
    assert listings.compare("replica").unexpected == 1
    found = UnexpectedObject.objects.get()
    assert (found.store, found.key, found.bytes) == ("replica", key, 9)
    assert timezone.now() - found.modified_at > timedelta(days=1)
    assert folders["replica"].read(key) == b"who knows"
    listings.compare("replica")
    assert UnexpectedObject.objects.count() == 1


def test_what_came_today_may_belong_to_a_file_that_is_being_stored(file, folders):
    leave(folders["primary"], "00/new.wav", days_ago=0.9)
    assert listings.compare("primary").unexpected == 0


def test_a_file_whose_row_came_meanwhile_is_not_unexpected(file, folders, a_file, monkeypatch):
    late = a_file(b"late")
    monkeypatch.setattr(listings, "_expected", lambda store: iter(()))
    for one in (file, late):
        leave(folders["primary"], one.key, folders["primary"].read(one.key))
    assert listings.compare("primary").unexpected == 0


@pytest.mark.parametrize("state", UploadState.values)
def test_what_has_come_of_an_upload_is_expected_until_it_has_ended(file, folders, volunteer, state):
    upload = an_upload(volunteer)
    Upload.objects.filter(pk=upload.pk).update(state=state, file=file if state == UploadState.STORED else None)
    leave(folders["primary"], f"{upload.pk.hex[:2]}/{upload.pk}.wav")
    leave(folders["primary"], f"pieces/{upload.pk}-3")
    is_open = state in {UploadState.RECEIVING, UploadState.RECEIVED}
    assert listings.compare("primary").unexpected == (0 if is_open else 2)


def test_broken_off_copies_older_than_a_day_are_removed_and_no_others(file, folders):
    leave(folders["primary"], "00/.arriving-abc")
    leave(folders["primary"], "00/.arriving-new", days_ago=0.5)
    leave(folders["primary"], "00/arriving-not.wav")
    assert listings.compare("primary").broken_off == 1
    assert set(folders["primary"].everything()) == {file.key, "00/.arriving-new", "00/arriving-not.wav"}
    with pytest.raises(ValueError, match=file.key):
        stores.remove_broken_off("primary", file.key)


def test_quarantine_and_mark_are_known(file, folders):
    leave(folders["primary"], "quarantine/7/00/bad.wav")
    assert listings.compare("primary").unexpected == 0


def test_what_is_no_longer_there_is_no_longer_told(file, folders):
    leave(folders["primary"], "00/holiday.jpg")
    listings.compare("primary")
    folders["primary"].delete("00/holiday.jpg")
    listings.compare("primary")
    assert listings.unexpected() == []


def test_after_a_month_somebody_may_set_it_aside(file, folders):
    leave(folders["primary"], "00/holiday.jpg")
    listings.compare("primary")
    found, archivist = UnexpectedObject.objects.get(), an_archivist()
    with pytest.raises(Refused, match="less than a month ago"):
        listings.set_aside(found.pk, actor=archivist)
    with at_time(later(days=31)):
        listings.set_aside(found.pk, actor=archivist)
    assert folders["primary"].read(f"quarantine/unexpected-{found.pk}/00/holiday.jpg") == b"who knows"
    assert listings.unexpected() == []
    event = Event.objects.get()
    assert (event.action, event.actor) == ("unexpected-set-aside", archivist)


def test_what_has_a_row_by_now_is_not_set_aside(file, folders):
    found = UnexpectedObject.objects.create(
        store="primary",
        key=file.key,
        bytes=1,
        modified_at=timezone.now(),
        first_seen_at=later(days=-40),
        last_seen_at=timezone.now(),
    )
    with pytest.raises(Refused, match="belongs to a file"):
        listings.set_aside(found.pk, actor=an_archivist())
    assert folders["primary"].path(file.key).exists()


# As many as a library may have in years


def many(count: int) -> None:
    """Rows for so many files, of which nothing lies in the stores."""
    digest = sha256(b"")
    ids = [uuid4() for _ in range(count)]
    files = [
        StoredFile(pk=pk, name="x", media_type="audio/wav", bytes=1, sha256=digest, key=f"{pk.hex[:2]}/{pk}.wav")
        for pk in ids
    ]
    StoredFile.objects.bulk_create(files, batch_size=2000)
    StoredCopy.objects.bulk_create([StoredCopy(file=file, store="primary") for file in files], batch_size=2000)


def a_listing(*, leave_out: int) -> dict[str, list[stores.Listed]]:
    """What a store would list if it had every copy of the rows but a few, and as many strange things."""
    then, found = timezone.now() - timedelta(days=3), {}
    for number, key in enumerate(StoredFile.objects.values_list("key", flat=True)):
        name = f"{key[:3]}strange-{number}" if number < leave_out else key
        found.setdefault(key[:3], []).append(stores.Listed(name, 1, then))
    return found


def queries_and_memory(monkeypatch, found: dict[str, list[stores.Listed]]) -> tuple[int, int, listings.Compared]:
    monkeypatch.setattr(stores, "require", lambda store: None)
    monkeypatch.setattr(stores, "tops", lambda store: iter(found))
    monkeypatch.setattr(stores, "listing", lambda store, top: iter(found.get(top, ())))
    tracemalloc.start()
    try:
        with CaptureQueriesContext(connection) as asked:
            told = listings.compare("primary")
        return len(asked), tracemalloc.get_traced_memory()[1], told
    finally:
        tracemalloc.stop()


def test_the_number_of_files_changes_neither_queries_nor_memory(db, monkeypatch):
    many(2_000)
    before = queries_and_memory(monkeypatch, a_listing(leave_out=0))
    many(18_000)
    queries, memory, told = queries_and_memory(monkeypatch, a_listing(leave_out=0))
    assert (told.listed, told.suspect, told.unexpected) == (20_000, 0, 0)
    assert queries == before[0] <= 3
    assert memory < before[1] + 1e6  # held at once, 18 000 rows more take 3 MB


def test_of_many_files_each_that_is_wrong_is_found_in_batches(db, monkeypatch):
    many(20_000)
    queries, _, told = queries_and_memory(monkeypatch, a_listing(leave_out=300))
    assert (told.listed, told.suspect, told.unexpected) == (20_000, 300, 300)
    assert StoredCopy.objects.filter(is_suspect=True).count() == 300
    folders = len({name[:3] for name in UnexpectedObject.objects.values_list("key", flat=True)})
    assert queries <= 3 + 5 * folders  # some for each folder in which something is wrong, none for each thing
