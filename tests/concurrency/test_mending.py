"""Two workers that find the same bad copy: one mends it, and a good copy is never taken for the bad one."""

from contextlib import nullcontext
from threading import Barrier, Event, current_thread

import pytest

from intake.files import audits, fixity, incidents, services
from intake.files.fixity import BeingRead, Reader
from intake.files.models import Audit, Incident, StoredFile, Why
from tests.concurrency.at_once import WAIT, at_once, refusals
from tests.files.damage import flip, spoil
from tests.stores import CONTENT

pytestmark = pytest.mark.django_db(transaction=True)
SPOILT = flip(3)(CONTENT)


def set_aside_in(place) -> list[bytes]:
    return [content for key, content in place.everything().items() if key.startswith("quarantine/")]


def test_control_without_the_lock_a_restored_copy_is_set_aside_as_if_it_were_bad(file, folders, monkeypatch):
    spoil(folders["replica"], file, flip(3))
    both_have_read, first_is_done, first = Barrier(2), Event(), []
    restore = incidents._restore_from

    def carelessly(*given):
        both_have_read.wait(WAIT)
        first.append(current_thread())  # appending is one step
        if first[0] is not current_thread():
            first_is_done.wait(WAIT)
        restore(*given)
        first_is_done.set()

    monkeypatch.setattr(fixity, "alone_with", lambda file: nullcontext())
    monkeypatch.setattr(incidents, "_restore_from", carelessly)
    at_once(*[lambda: incidents.examine(file, Reader(Why.ASKED))] * 2)
    assert CONTENT in set_aside_in(folders["replica"])


def test_one_of_two_mends_a_bad_copy(file, folders):
    spoil(folders["replica"], file, flip(3))
    ended = at_once(*[lambda: incidents.examine(file, Reader(Why.ASKED))] * 4)
    assert len(refusals(ended, BeingRead)) < 4
    assert set_aside_in(folders["replica"]) == [SPOILT]
    assert folders["replica"].read(file.key) == CONTENT
    assert services.is_safe(StoredFile.objects.get())
    assert Incident.objects.get().state == "restored"


def test_two_who_see_a_store_gone_open_one_incident(file, folders, tmp_path):
    folders["replica"].root.rename(tmp_path / "unmounted")
    refusals(at_once(*[incidents.note_stores] * 4), BeingRead)
    assert Incident.objects.count() == 1


def test_two_who_ask_at_once_share_one_audit(file, archivist):
    from_both = at_once(*[lambda: audits.ask(about="everything", actor=archivist)] * 4)
    assert len({audit.pk for audit in from_both}) == Audit.objects.count() == 1
