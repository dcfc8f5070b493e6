"""A bad copy is found whatever became of it, set aside, and restored from one that has just been read and matches."""

import os
import shutil
from pathlib import Path

import pytest
from django.db import DatabaseError, transaction

from intake.audit.models import Event
from intake.errors import Refused
from intake.files import fixity, incidents, services, storage, stores
from intake.files.fixity import Reader
from intake.files.models import FixityCheck, Found, Incident, IncidentState, StoredCopy, StoredFile, Why
from tests.files.damage import CHANGES, Folder, flip, spoil
from tests.stores import CONTENT

pytestmark = pytest.mark.django_db
READER = Reader(Why.ASKED)
OTHER = {"primary": "replica", "replica": "primary"}


def fresh(file: StoredFile) -> StoredFile:
    return StoredFile.objects.get(pk=file.pk)


def both_good(file: StoredFile, folders: dict[str, Folder]) -> bool:
    return all(place.read(file.key) == CONTENT for place in folders.values()) and services.is_safe(fresh(file))


def examine(file: StoredFile, **given) -> dict[str, Found]:
    return {store: reading.found for store, reading in incidents.examine(file, READER, **given).items()}


# Readings


def test_good_copies_are_read_and_noted_and_nothing_else_happens(file, folders):
    before = {name: place.everything() for name, place in folders.items()}
    assert examine(file) == {"primary": "matches", "replica": "matches"}
    assert {name: place.everything() for name, place in folders.items()} == before
    assert not Incident.objects.exists()
    assert not Event.objects.exists()


def test_a_reading_tells_which_copy_when_why_how_much_and_how_long(file):
    incidents.examine(file, READER)
    arrived, asked = file.checks.filter(store="replica")
    assert (arrived.why, asked.why) == ("arrival", "asked")
    assert (asked.found, asked.found_sha256, asked.bytes_read) == ("matches", file.sha256, len(CONTENT))
    assert 0 < asked.seconds < 60
    assert arrived.at < asked.at
    assert StoredCopy.objects.get(file=file, store="replica").read_at == asked.at


@pytest.mark.parametrize("change", [lambda row: row.delete(), lambda row: row.save()], ids=["deleted", "changed"])
def test_the_database_lets_no_reading_be_changed_or_deleted(file, change):
    row = file.checks.first()
    row.found = Found.MISSING
    with pytest.raises(DatabaseError, match="never changed or deleted"), transaction.atomic():
        change(row)


@pytest.mark.parametrize(
    ("given", "constraint"),
    [
        ({"found": "differs", "found_sha256": ""}, "reading_has_a_digest"),
        ({"found": "unreadable", "told": ""}, "unreadable_says_why"),
    ],
)
def test_the_database_lets_no_reading_be_half_told(file, given, constraint):
    with pytest.raises(DatabaseError, match=constraint), transaction.atomic():
        FixityCheck.objects.create(file=file, store="replica", why=Why.ASKED, **given)


def test_what_the_system_remembers_of_a_file_is_not_what_is_read(file, folders, monkeypatch):
    """posix_fadvise(2): POSIX_FADV_DONTNEED drops cached pages, so that the disk itself is asked."""
    asked = []
    advise = os.posix_fadvise

    def watching(handle, offset, length, advice):
        asked.append((offset, length, advice))
        advise(handle, offset, length, advice)

    monkeypatch.setattr(os, "posix_fadvise", watching)
    b"".join(stores.read_anew("primary", file.key))
    assert asked[0] == (0, 0, os.POSIX_FADV_DONTNEED)


# Every kind of damage


@pytest.mark.parametrize("store", storage.STORES)
@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES)
def test_a_changed_copy_is_found_set_aside_and_restored(file, folders, store, change):
    spoilt = spoil(folders[store], file, change)
    assert examine(file) == {store: "differs", OTHER[store]: "matches"}
    incident = Incident.objects.get()
    assert (incident.store, incident.state) == (store, IncidentState.RESTORED)
    assert both_good(file, folders)
    assert folders[store].everything() == {file.key: CONTENT, f"quarantine/{incident.pk}/{file.key}": spoilt}
    assert folders[OTHER[store]].everything() == {file.key: CONTENT}


@pytest.mark.parametrize("store", storage.STORES)
def test_a_missing_copy_is_found_and_restored(file, folders, store):
    folders[store].delete(file.key)
    assert examine(file)[store] == "missing"
    assert both_good(file, folders)
    assert folders[store].everything() == {file.key: CONTENT}
    assert Incident.objects.get().told == f"The {store} copy is missing."


@pytest.mark.parametrize("store", storage.STORES)
def test_a_folder_in_the_place_of_a_copy_makes_it_unreadable(file, folders, store):
    path = folders[store].path(file.key)
    path.unlink()
    path.mkdir()
    (path / "inside").write_bytes(b"kept")
    assert examine(file)[store] == "unreadable"
    incident = Incident.objects.get()
    assert "IsADirectoryError" in incident.told
    assert both_good(file, folders)
    assert folders[store].read(f"quarantine/{incident.pk}/{file.key}/inside") == b"kept"


def test_a_file_in_the_place_of_a_folder_of_copies_is_set_aside_too(file, folders):
    folder = folders["primary"].path(file.key).parent
    shutil.rmtree(folder)
    folder.write_bytes(b"in the way")
    assert examine(file)["primary"] == "unreadable"
    assert both_good(file, folders)
    assert b"in the way" in folders["primary"].everything().values()


@pytest.mark.skipif(os.geteuid() == 0, reason="root may read everything")
def test_a_copy_that_may_not_be_read_is_set_aside_and_restored(file, folders):
    folders["replica"].path(file.key).chmod(0)
    assert examine(file)["replica"] == "unreadable"
    assert services.is_safe(fresh(file))


def test_two_swapped_files_are_both_found_and_restored(file, folders, a_file):
    other = a_file(CONTENT[::-1], "TOLL0008.WAV")
    first, second = (folders["replica"].path(one.key) for one in (file, other))
    kept = first.with_suffix(".held")
    first.rename(kept)
    second.rename(first)
    kept.rename(second)
    assert examine(file)["replica"] == "differs"
    assert examine(other)["replica"] == "differs"
    assert both_good(file, folders)
    assert folders["replica"].read(other.key) == CONTENT[::-1]


def test_one_copy_asked_for_is_mended_from_the_other_which_is_read_first(file, folders):
    spoil(folders["primary"], file, flip(7))
    incidents.examine(file, READER, only="primary")
    assert both_good(file, folders)
    assert [check.found for check in file.checks.filter(store="replica")] == ["matches", "matches"]


def test_a_copy_is_accused_only_after_a_second_reading(file, monkeypatch):
    """A bit that flips in memory or on the cable is not the disk's: the second reading is right."""
    blocks = [[b"wrong once"], [CONTENT]]
    monkeypatch.setattr(stores, "read_anew", lambda store, key: iter(blocks.pop(0)))
    assert examine(file, only="replica") == {"replica": "matches"}
    assert not Incident.objects.exists()
    assert [check.found for check in file.checks.filter(store="replica")] == ["matches", "differs", "matches"]


def test_what_matters_is_an_event_and_names_file_and_copy(file, folders):
    spoil(folders["replica"], file, flip(7))
    incidents.examine(file, READER)
    told = [(event.action, event.outcome, event.details["store"]) for event in Event.objects.all()]
    assert told == [
        ("bad-copy-found", "failure", "replica"),
        ("copy-set-aside", "success", "replica"),
        ("copy-restored", "success", "replica"),
    ]
    assert {event.subject_id for event in Event.objects.all()} == {str(file.pk)}


# No good copy


@pytest.fixture
def lost(file, folders) -> StoredFile:
    for place in folders.values():
        spoil(place, file, flip(99))
    incidents.examine(file, READER)
    return file


def test_without_a_good_copy_nothing_is_moved_or_overwritten(lost, folders):
    spoilt = flip(99)(CONTENT)
    assert [place.everything() for place in folders.values()] == [{lost.key: spoilt}, {lost.key: spoilt}]
    assert set(Incident.objects.values_list("state", "closed_at")) == {("no-good-copy", None)}
    assert incidents.is_lost(fresh(lost))


def test_looking_again_at_a_lost_file_changes_nothing_and_tells_nothing_twice(lost, folders):
    events = Event.objects.count()
    before = [place.everything() for place in folders.values()]
    incidents.examine(lost, READER)
    assert [place.everything() for place in folders.values()] == before
    assert (Incident.objects.count(), Event.objects.count()) == (2, events)


def test_a_good_copy_given_back_restores_both(lost, folders, tmp_path):
    mended = incidents.give_back(lost, storage.write(tmp_path / "from the card", CONTENT))
    assert mended == ["primary", "replica"]
    assert both_good(lost, folders)
    assert set(Incident.objects.values_list("state", flat=True)) == {"restored"}
    assert list(folders["primary"].everything().values()).count(flip(99)(CONTENT)) == 1


def test_only_the_very_bytes_may_be_given_back(lost, folders, tmp_path):
    before = [place.everything() for place in folders.values()]
    with pytest.raises(Refused, match="SHA-256 differs"):
        incidents.give_back(lost, storage.write(tmp_path / "another", CONTENT + b"!"))
    assert [place.everything() for place in folders.values()] == before


def test_a_copy_put_right_by_somebody_restores_the_other(lost, folders):
    folders["primary"].write(lost.key, CONTENT)
    incidents.examine(lost, READER)
    assert both_good(lost, folders)
    assert set(Incident.objects.values_list("store", "state")) == {("primary", "right-again"), ("replica", "restored")}


# A store that is not there


def test_an_empty_mount_point_accuses_no_copy(file, folders, tmp_path):
    shutil.move(folders["replica"].root, tmp_path / "the disk")
    folders["replica"].root.mkdir()
    assert examine(file) == {"primary": "matches"}
    assert list(folders["replica"].root.iterdir()) == []
    incident = Incident.objects.get()
    assert (incident.file, incident.store) == (None, "replica")
    assert "mark" in incident.told
    assert services.is_safe(fresh(file))  # nothing was read, so nothing is known to be bad


def test_a_store_that_comes_back_closes_its_incident(file, folders, tmp_path):
    shutil.move(folders["replica"].root, tmp_path / "the disk")
    assert incidents.note_stores() == {"replica"}
    assert incidents.note_stores() == {"replica"}
    shutil.move(tmp_path / "the disk", folders["replica"].root)
    assert incidents.note_stores() == set()
    assert Incident.objects.get().state == IncidentState.RIGHT_AGAIN


def test_stores_mixed_up_are_told_and_nothing_is_accused(file, folders):
    (folders["replica"].root / stores.MARK).unlink()
    shutil.copy(folders["primary"].root / stores.MARK, folders["replica"].root / stores.MARK)
    folders["replica"].delete(file.key)
    assert examine(file) == {"primary": "matches"}
    assert "another store" in Incident.objects.get().told


def test_nothing_new_is_placed_in_a_store_that_is_not_there(file, folders, a_file):
    """It would lie under the mount point of the disk that is away. The job is tried again."""
    (folders["replica"].root / stores.MARK).unlink()
    with pytest.raises(stores.StoreGone) as refused:
        a_file(b"another")
    assert isinstance(refused.value, OSError)
    assert not (folders["replica"].root / stores.MARK).exists()
    assert list(folders["replica"].everything()) == [file.key]
    assert StoredFile.objects.count() == 1


# Stopped at any point


class Killed(BaseException):
    """The process ends here."""


STEPS = {
    "after the reading": (fixity, "note"),
    "before anything is set aside": (stores, "set_aside"),
    "before it is placed": (storage, "place"),
    "before it is read back": (incidents, "_read_back"),
    "before it is said": (incidents, "_close"),
}


@pytest.mark.parametrize("moment", ["before", "after"])
@pytest.mark.parametrize(("module", "name"), STEPS.values(), ids=STEPS)
def test_stopped_at_any_step_the_next_run_ends_it(file, folders, monkeypatch, module, name, moment):
    spoilt = spoil(folders["replica"], file, flip(7))
    step = getattr(module, name)

    def stopped(*given, **named):
        if moment == "after":
            step(*given, **named)
        raise Killed

    with monkeypatch.context() as once:
        once.setattr(module, name, stopped)
        with pytest.raises(Killed):
            incidents.examine(file, READER)
    assert CONTENT in folders["primary"].everything().values()
    assert spoilt in folders["replica"].everything().values()
    incidents.examine(file, READER)
    incidents.examine(file, READER)
    assert both_good(file, folders)
    assert sorted(folders["replica"].everything().values()) == sorted([CONTENT, spoilt])
    incident = Incident.objects.get()
    assert incident.state == IncidentState.RESTORED
    assert [event.action for event in Event.objects.all()] == ["bad-copy-found", "copy-set-aside", "copy-restored"]


def test_a_full_disk_leaves_the_incident_open_with_what_hinders_it(file, folders, monkeypatch):
    spoil(folders["replica"], file, flip(7))
    with monkeypatch.context() as once:
        once.setattr(storage, "place", lambda *given: (_ for _ in ()).throw(OSError(28, "No space left on device")))
        incidents.examine(file, READER)
    incident = Incident.objects.get()
    assert (incident.state, incident.closed_at) == (IncidentState.SET_ASIDE, None)
    assert "No space left" in incident.hindrance
    incidents.go_on_with(file, READER)
    assert both_good(file, folders)
    assert Incident.objects.get().hindrance == ""


def test_a_restored_copy_that_is_bad_again_is_not_called_restored(file, folders, monkeypatch):
    spoil(folders["replica"], file, flip(7))
    place = storage.place

    def spoiling(store, key, source: Path):
        place(store, key, source)
        spoil(folders[store], file, flip(0))

    with monkeypatch.context() as once:
        once.setattr(storage, "place", spoiling)
        incidents.examine(file, READER)
    assert Incident.objects.get().closed_at is None
    assert not services.is_safe(fresh(file))
    incidents.examine(file, READER)
    assert both_good(file, folders)
    assert len(folders["replica"].everything()) == 3  # the copy, and each bad one under a name of its own


def test_nobody_else_reads_or_mends_a_file_meanwhile(file):
    with fixity.alone_with(file), pytest.raises(fixity.BeingRead):
        incidents.examine(file, READER)


def test_every_store_has_a_row_for_every_file(file):
    StoredFile.objects.create(name="x", media_type="audio/wav", bytes=1, sha256="0" * 64, key="x")
    assert fixity.ensure_copies() == 2
    assert fixity.ensure_copies() == 0
