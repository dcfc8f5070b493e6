"""A store lost as a whole is filled again from the other; whoever wants a file meanwhile gets it."""

import shutil

import pytest
from django.test import RequestFactory

from intake.audit.models import Event
from intake.errors import Refused
from intake.files import incidents, rebuilding, services, serving, storage, stores
from intake.files.models import Audit, FixityCheck, Incident, StoredFile, Why
from intake.jobs.models import Job, Kind
from intake.web.ranges import serve
from tests.files.damage import flip, spoil
from tests.stores import CONTENT

pytestmark = pytest.mark.django_db


def nothing(done: int, total: int) -> None:
    """Progress that nobody looks at."""


def lose(place) -> None:
    shutil.rmtree(place.root)
    place.root.mkdir()


@pytest.mark.parametrize("store", storage.STORES)
def test_a_lost_store_is_filled_again_and_read_back(folders, a_file, store):
    files = {a_file(CONTENT + bytes([number])): CONTENT + bytes([number]) for number in range(5)}
    lose(folders[store])
    assert incidents.note_stores() == {store}
    told = []
    audit = rebuilding.rebuild(store, lambda *given: told.append(given))
    assert folders[store].everything() == {file.key: content for file, content in files.items()}
    assert all(services.is_safe(StoredFile.objects.get(pk=file.pk)) for file in files)
    assert not Incident.objects.filter(file__isnull=False).exists()
    assert not Incident.objects.filter(closed_at=None).exists()
    assert told[-1] == (5 * (len(CONTENT) + 1),) * 2
    event = Event.objects.get(action="store-rebuilt")
    assert (event.details["placed"], event.details["bad_copies"]) == (5, 0)
    assert audit.finished_at is not None


def test_it_goes_on_where_it_was_stopped(folders, a_file, monkeypatch):
    for number in range(4):
        a_file(CONTENT + bytes([number]))
    lose(folders["replica"])
    place, left = storage.place, [3]

    def stopped(store, key, source):
        left[0] -= 1
        if not left[0]:
            raise KeyboardInterrupt
        place(store, key, source)

    with monkeypatch.context() as once:
        once.setattr(storage, "place", stopped)
        with pytest.raises(KeyboardInterrupt):
            rebuilding.rebuild("replica", nothing)
    rebuilding.rebuild("replica", nothing)
    assert len(folders["replica"].everything()) == 4
    assert Audit.objects.get(about="store:replica").finished_at is not None
    assert FixityCheck.objects.filter(why=Why.RESTORED).count() == 4


def test_what_stands_in_the_new_place_is_read_and_bad_copies_are_mended(folders, a_file):
    good, bad = a_file(CONTENT), a_file(CONTENT[::-1])
    spoil(folders["replica"], bad, flip(9))
    rebuilding.rebuild("replica", nothing)
    assert folders["replica"].read(good.key) == CONTENT
    assert folders["replica"].read(bad.key) == CONTENT[::-1]
    assert Incident.objects.get().file == bad


def test_a_file_whose_only_copy_is_bad_is_told_and_not_spread(folders, a_file):
    file = a_file(CONTENT)
    spoil(folders["primary"], file, flip(9))
    lose(folders["replica"])
    rebuilding.rebuild("replica", nothing)
    assert folders["replica"].everything() == {}
    assert set(Incident.objects.filter(file=file).values_list("state", flat=True)) == {"no-good-copy"}


def test_there_is_no_other_store(db):
    with pytest.raises(Refused, match="no tertiary store"):
        rebuilding.rebuild("tertiary", nothing)


# Serving


def test_a_file_is_served_from_its_good_place(file):
    with serving.open_copy(file) as copy:
        assert copy.read() == CONTENT
    assert not Job.objects.exists()


def test_a_missing_primary_copy_is_served_from_the_replica_and_a_reading_begun(file, folders):
    folders["primary"].delete(file.key)
    answer = serve(RequestFactory().get("/", headers={"Range": "bytes=10-19"}), file)
    assert b"".join(answer.streaming_content) == CONTENT[10:20]
    job = Job.objects.get(kind=Kind.CHECK_COPIES)
    assert Audit.objects.get(pk=job.subject_id).why == Why.SERVED


def test_a_store_that_is_away_is_served_from_the_other(file, folders, tmp_path):
    folders["primary"].root.rename(tmp_path / "unmounted")
    with serving.open_copy(file) as copy:
        assert copy.read() == CONTENT


def test_a_file_that_no_store_has_is_an_error(file, folders):
    for place in folders.values():
        place.delete(file.key)
    with pytest.raises(FileNotFoundError):
        serving.open_copy(file)


def test_a_mark_is_not_a_copy(file, folders):
    assert stores.MARK not in folders["primary"].everything()
    assert list(stores.tops("primary")) == [f"{file.key[:2]}/"]
