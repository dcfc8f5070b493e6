"""Keeping a file: placed in two stores, each copy read back, and only then said to be stored."""

import errno
import shutil
from pathlib import Path
from uuid import UUID, uuid4

import pytest
from django.core.files.storage import storages
from django.db import IntegrityError, transaction

from intake.files import services, storage
from intake.files.models import FixityCheck, StoredFile
from tests.factories import a_bad_reading, sha256

pytestmark = pytest.mark.django_db
CONTENT = b"forty years of the cable ferry" * 100
FILE_ID = UUID("00112233-4455-6677-8899-aabbccddeeff")
KEY = "00/00112233-4455-6677-8899-aabbccddeeff.wav"


@pytest.fixture
def stores(folder):
    """Two folders; the same promises are kept on an S3-compatible server in test_object_store.py."""
    return folder


@pytest.fixture
def folder(settings, tmp_path):
    """The primary store as a folder, the replica beside it."""
    for name in storage.STORES:
        location = {"OPTIONS": {"location": tmp_path / "stores" / name}}
        backend = {"BACKEND": "django.core.files.storage.FileSystemStorage"}
        settings.STORAGES = {**settings.STORAGES, name: {**backend, **location}}
    return tmp_path / "stores"


@pytest.fixture
def source(tmp_path):
    return storage.write(tmp_path / "source", CONTENT)


def keep(source, **given):
    return services.keep(source, **{"file_id": FILE_ID, "name": "TOLL0007.WAV", "media_type": "audio/wav", **given})


def content_of(store: str, key: str = KEY) -> bytes:
    with storage.open_copy(store, key) as copy:
        return copy.read()


def spoil(store: str, monkeypatch) -> None:
    """One bit turns over on the way into one store."""
    placing = {"primary": "place", "replica": "place_from"}[store]
    place = getattr(storage, placing)

    def place_and_spoil(into, key, source):
        place(into, key, source)
        path = Path(storages[into].path(key))
        content = bytearray(path.read_bytes())
        content[len(content) // 2] ^= 1
        path.chmod(0o600)
        path.write_bytes(bytes(content))

    monkeypatch.setattr(storage, placing, place_and_spoil)


def test_a_file_is_kept_in_both_stores(stores, source):
    stored = keep(source)
    assert (stored.key, stored.bytes, stored.sha256) == (KEY, len(CONTENT), sha256(CONTENT))
    assert {store: content_of(store) for store in storage.STORES} == {"primary": CONTENT, "replica": CONTENT}


def test_each_copy_was_read_back(stores, source):
    stored = keep(source)
    readings = {check.store: (check.found_sha256, check.matches) for check in stored.checks.all()}
    assert readings == {"primary": (sha256(CONTENT), True), "replica": (sha256(CONTENT), True)}
    assert services.verified_stores(stored) == {"primary", "replica"}
    assert services.is_safe(stored)


def test_keeping_again_gives_the_same_file(stores, source):
    assert keep(source) == keep(source)
    assert StoredFile.objects.count() == 1
    assert FixityCheck.objects.count() == 2


def test_a_try_that_broke_off_before_is_replaced(stores, source):
    storage.place("primary", KEY, storage.write(source.with_name("half"), CONTENT[:100]))
    keep(source)
    assert content_of("primary") == CONTENT


@pytest.mark.parametrize("store", storage.STORES)
def test_a_copy_that_was_damaged_on_its_way_is_found(stores, source, store, monkeypatch):
    spoil(store, monkeypatch)
    with pytest.raises(services.Damaged, match=str(FILE_ID)):
        keep(source)
    assert not StoredFile.objects.exists()
    assert not FixityCheck.objects.exists()


def test_after_a_damaged_copy_another_try_mends_it(stores, source, monkeypatch):
    with monkeypatch.context() as once:
        spoil("replica", once)
        with pytest.raises(services.Damaged):
            keep(source)
    keep(source)
    assert content_of("replica") == CONTENT


def test_a_damaged_copy_counts_as_a_fault_worth_another_try():
    """The policies of the queue try faults of the disk again; this is one."""
    assert issubclass(services.Damaged, OSError)


def test_progress_tells_of_every_byte_read(stores, source):
    counts = []
    storage.place("primary", KEY, source)
    given = {"file_id": FILE_ID, "name": "TOLL0007.WAV", "media_type": "audio/wav", "length": len(CONTENT)}
    services.keep_placed(**given, expected_sha256="", progress=counts.append)
    assert sum(counts) == 2 * len(CONTENT)  # each copy once


def test_a_missing_copy_is_not_there(stores):
    assert not storages["primary"].exists(KEY)
    with pytest.raises(FileNotFoundError):
        storage.open_copy("primary", KEY)


def test_a_copy_that_is_there_is_there(stores, source):
    keep(source)
    assert storages["replica"].exists(KEY)


def test_a_stored_file_can_be_worked_on_as_a_path(stores, source):
    keep(source)
    with storage.local_path(KEY) as path:
        assert path.read_bytes() == CONTENT
        assert path.suffix == ".wav"


def test_something_made_in_memory_is_kept_too(stores):
    stored = services.keep_bytes(b"%PDF", file_id=uuid4(), name="receipt.pdf", media_type="application/pdf")
    assert content_of("replica", stored.key) == b"%PDF"


# Folders


def test_a_kept_file_is_never_to_be_written_again(folder, source):
    keep(source)
    assert {(folder / store / KEY).stat().st_mode & 0o777 for store in storage.STORES} == {0o440}


def test_a_copy_that_breaks_off_half_way_leaves_no_file(folder, source, monkeypatch):
    def disk_full(original, target, block):
        target.write(original.read(100))
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(shutil, "copyfileobj", disk_full)
    with pytest.raises(OSError, match="No space"):
        keep(source)
    assert [path for path in folder.rglob("*") if path.is_file()] == []


def test_the_real_name_is_never_seen_on_half_a_file(folder, source, monkeypatch):
    seen_during_the_copy = []
    copy = shutil.copyfileobj

    def watching(original, target, block):
        seen_during_the_copy.append(storages["primary"].exists(KEY))
        copy(original, target, block)

    monkeypatch.setattr(shutil, "copyfileobj", watching)
    storage.place("primary", KEY, source)
    assert seen_during_the_copy == [False]
    assert storages["primary"].exists(KEY)


def test_every_new_name_is_synced_where_it_stands(folder, source, monkeypatch):
    """fsync(2): a file's own sync does not reach the folder that holds its name; that needs a sync of its own."""
    synced = []
    sync = storage._sync_folder

    def watching(path):
        synced.append(path)
        sync(path)

    monkeypatch.setattr(storage, "_sync_folder", watching)
    storage.place("primary", KEY, source)
    store = folder / "primary"
    assert {folder.parent, folder, store, store / "00"} <= set(synced)
    synced.clear()
    storage.place("primary", KEY.replace(".wav", ".pdf"), source)
    assert synced == [store / "00"]


def test_scratch_folders_are_gone_afterwards():
    with storage.scratch_folder() as scratch:
        storage.write(scratch / "x", b"x")
        assert scratch.stat().st_mode & 0o077 == 0
    assert not scratch.exists()


# Proof


def test_only_the_latest_reading_of_a_copy_counts(folder, source):
    stored = keep(source)
    a_bad_reading(stored)
    stored = StoredFile.objects.get(pk=stored.pk)
    assert services.verified_stores(stored) == {"primary"}
    assert not services.is_safe(stored)


def test_a_file_without_readings_is_not_safe(db):
    unread = StoredFile.objects.create(name="x", media_type="audio/wav", bytes=1, sha256="0" * 64, key="x")
    assert not services.is_safe(unread)


@pytest.mark.parametrize("wrong", ["", "abc", "G" * 64, "A" * 64, "0" * 63])
def test_the_database_lets_no_file_be_without_its_sha256(wrong):
    with pytest.raises(IntegrityError, match="file_has_a_sha256"), transaction.atomic():
        StoredFile.objects.create(name="x", media_type="audio/wav", bytes=1, sha256=wrong, key="x")
