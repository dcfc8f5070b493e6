"""Bad copies on a real S3-compatible server: the same promises as in folders."""

from uuid import uuid4

import pytest

from intake.files import incidents, listings, objects, rebuilding, services, storage, stores
from intake.files.fixity import Reader
from intake.files.models import Incident, StoredCopy, StoredFile, UnexpectedObject, Why
from tests.files.damage import CHANGES, Bucket, spoil

pytestmark = [pytest.mark.django_db, pytest.mark.processes]
CONTENT = bytes(range(256)) * 40
READER = Reader(Why.ASKED)


@pytest.fixture
def buckets(object_stores: None) -> dict[str, Bucket]:
    for store in storage.STORES:  # one server serves all tests of this file
        for key in [*Bucket(store).everything(), stores.MARK]:
            Bucket(store).delete(key)
    return {store: Bucket(store) for store in storage.STORES}


@pytest.fixture
def file(buckets, a_file) -> StoredFile:
    return a_file(CONTENT)


def both_good(file: StoredFile, buckets: dict[str, Bucket]) -> bool:
    is_safe = services.is_safe(StoredFile.objects.get(pk=file.pk))
    return is_safe and all(place.read(file.key) == CONTENT for place in buckets.values())


def test_good_copies_are_left_as_they_are(file, buckets):
    incidents.examine(file, READER)
    assert [place.everything() for place in buckets.values()] == [{file.key: CONTENT}] * 2
    assert not Incident.objects.exists()


@pytest.mark.parametrize("store", storage.STORES)
@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES)
def test_a_changed_object_is_found_set_aside_and_restored(file, buckets, store, change):
    spoilt = spoil(buckets[store], file, change)
    assert incidents.examine(file, READER)[store].found == "differs"
    assert both_good(file, buckets)
    incident = Incident.objects.get()
    assert buckets[store].everything() == {file.key: CONTENT, f"quarantine/{incident.pk}/{file.key}": spoilt}


@pytest.mark.parametrize("store", storage.STORES)
def test_a_missing_object_is_restored(file, buckets, store):
    buckets[store].delete(file.key)
    assert incidents.examine(file, READER)[store].found == "missing"
    assert both_good(file, buckets)


def test_without_a_good_copy_nothing_is_touched(file, buckets):
    for place in buckets.values():
        spoil(place, file, CHANGES["one bit somewhere"])
    before = [place.everything() for place in buckets.values()]
    incidents.examine(file, READER)
    assert [place.everything() for place in buckets.values()] == before
    assert set(Incident.objects.values_list("state", flat=True)) == {"no-good-copy"}


def test_a_copy_larger_than_one_part_is_set_aside_and_restored(buckets, a_file):
    """The client copies and sends in parts of 8 MB."""
    content = bytes(range(256)) * 80_000
    file = a_file(content)
    spoilt = spoil(buckets["replica"], file, CHANGES["one bit in the last byte"])
    incidents.examine(file, READER)
    assert buckets["replica"].read(file.key) == content
    assert spoilt in buckets["replica"].everything().values()


def test_a_server_that_does_not_answer_accuses_no_copy(file, settings):
    options = settings.STORAGES["replica"]
    away = {**options["OPTIONS"], "endpoint_url": "http://127.0.0.1:9"}  # nothing listens on the discard port
    settings.STORAGES = {**settings.STORAGES, "replica": {**options, "OPTIONS": away}}
    assert list(incidents.examine(file, READER)) == ["primary"]
    incident = Incident.objects.get()
    assert incident.file is None
    assert "does not answer" in incident.told


def test_the_listing_finds_what_is_missing_odd_and_of_another_size(buckets, a_file, monkeypatch):
    gone, cut, good = (a_file(CONTENT) for _ in range(3))
    buckets["primary"].delete(gone.key)
    spoil(buckets["primary"], cut, CHANGES["cut short by a byte"])
    for key in ("00/strange.wav", "strange.txt", "papers/2026/list.txt"):
        buckets["primary"].write(key, b"who knows")
    monkeypatch.setattr(listings, "SETTLED_AFTER", -listings.SETTLED_AFTER)  # what has just been put there counts
    told = listings.compare("primary")
    assert (told.suspect, told.unexpected) == (2, 3)
    assert set(StoredCopy.objects.filter(is_suspect=True).values_list("file", flat=True)) == {gone.pk, cut.pk}
    assert set(UnexpectedObject.objects.values_list("key", flat=True)) == {
        "00/strange.wav",
        "strange.txt",
        "papers/2026/list.txt",
    }
    assert good.key in buckets["primary"].everything()


def test_more_objects_than_one_page_of_a_listing_holds(buckets, a_file, monkeypatch):
    monkeypatch.setattr(objects, "MANY", 3)
    a_file(CONTENT)
    for number in range(10):
        buckets["replica"].write(f"strange/{uuid4()}-{number}", b"x")
    monkeypatch.setattr(listings, "SETTLED_AFTER", -listings.SETTLED_AFTER)
    assert listings.compare("replica").unexpected == 10


def test_a_lost_bucket_is_filled_again(buckets, a_file):
    files = [a_file(CONTENT), a_file(CONTENT[::-1])]
    for key in [*buckets["replica"].everything(), stores.MARK]:
        buckets["replica"].delete(key)
    rebuilding.rebuild("replica", lambda done, total: None)
    assert buckets["replica"].everything() == {files[0].key: CONTENT, files[1].key: CONTENT[::-1]}
    assert not Incident.objects.filter(file__isnull=False).exists()
