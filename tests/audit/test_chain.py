"""The chain of sealed events: what was changed, taken out or cut off afterwards is found."""

import hashlib
import json
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db import connection, transaction

from intake.audit import services as audit
from intake.audit import triggers
from intake.audit.actions import Action
from intake.audit.models import Event, EventNames, Seal
from tests.factories import a_collection


@pytest.fixture
def events(coordinator):
    """Five events, two of them with names, all sealed."""
    collection = a_collection()
    for number in range(4):
        audit.record(
            actor=coordinator,
            action=Action.COLLECTION_ADDED,
            subject=collection,
            names={"name": f"Person {number}"} if number % 2 else None,
            number=number,
        )
    audit.seal_pending()
    return list(Event.objects.order_by("id"))


@pytest.fixture
def intruder(events):
    """Somebody with full rights on the database has lifted its refusal. The test's own rollback puts it back."""
    connection.check_constraints()
    triggers.remove(connection)


def faults() -> tuple[str, ...]:
    return audit.check_chain().faults


def test_each_seal_carries_the_digest_of_the_one_before(events):
    seals = list(Seal.objects.order_by("number"))
    assert [seal.number for seal in seals] == [1, 2, 3, 4, 5]
    assert [seal.previous for seal in seals] == ["0" * 64] + [seal.digest for seal in seals[:-1]]


def test_an_untouched_chain_is_whole(events):
    check = audit.check_chain()
    assert check.faults == ()
    assert (check.sealed, check.unsealed, check.head) == (5, 0, Seal.objects.last().digest)


def test_a_digest_can_be_worked_out_again_from_the_bare_columns(events):
    """The rule as a stranger would apply it: SHA-256 (FIPS 180-4) over compact JSON (RFC 8259), its keys in order."""
    event = events[3]
    row = Event.objects.filter(pk=event.pk).values().get()
    text = (
        f'{{"action":"{row["action"]}","actor":{row["actor_id"]},"at":"{row["at"].isoformat()}",'
        f'"details":{json.dumps(row["details"], separators=(",", ":"))},"event":{row["id"]},'
        f'"names_digest":"{row["names_digest"]}","number":4,"outcome":"{row["outcome"]}",'
        f'"previous":"{Seal.objects.get(number=3).digest}","subject":["{row["subject_type"]}","{row["subject_id"]}"],'
        f'"thread":"{row["thread"]}"}}'
    )
    assert Seal.objects.get(number=4).digest == hashlib.sha256(text.encode()).hexdigest()


def test_sealing_again_goes_on_where_the_chain_ended(events, coordinator):
    audit.record(actor=coordinator, action=Action.COLLECTION_ADDED, subject=a_collection(), late=True)
    assert audit.is_pending()
    assert audit.check_chain().unsealed == 1
    assert audit.seal_pending() == 1
    assert not audit.is_pending()
    assert audit.check_chain().sealed == 6


def test_sealing_when_nothing_waits_does_nothing(events):
    assert audit.seal_pending() == 0


def test_much_is_sealed_in_portions(coordinator, monkeypatch):
    collection = a_collection()
    for _ in range(4):
        audit.record(actor=coordinator, action=Action.COLLECTION_ADDED, subject=collection)
    monkeypatch.setattr(audit, "SEAL_AT_ONCE", 3)
    assert [audit.seal_pending(), audit.seal_pending(), audit.seal_pending()] == [3, 2, 0]
    assert faults() == ()


def test_the_database_lets_no_second_seal_take_a_number(events):
    with pytest.raises(Exception, match=r"(?i)unique"), transaction.atomic():
        Seal.objects.create(number=5, event=events[0], previous="0" * 64, digest="1" * 64)


@pytest.mark.usefixtures("intruder")
class TestTampering:
    def test_a_changed_event_is_found(self, events):
        Event.objects.filter(pk=events[2].pk).update(details={"number": 99})
        assert faults() == (f"Event {events[2].pk} (seal 3) is not what was sealed.",)

    @pytest.mark.parametrize(
        "change",
        [
            {"actor": None},
            {"action": Action.ACCEPTED},
            {"subject_id": "1000"},
            {"subject_type": "kits.kit"},
            {"thread": "kits.kit:1"},
            {"outcome": "failure"},
            {"names_digest": "0" * 64},
            {"at": "2026-01-01T00:00:00+00:00"},
        ],
        ids=lambda change: next(iter(change)),
    )
    def test_a_change_to_any_column_is_found(self, events, change):
        Event.objects.filter(pk=events[2].pk).update(**change)
        assert f"Event {events[2].pk} (seal 3) is not what was sealed." in faults()

    def test_a_change_that_was_sealed_anew_still_breaks_the_chain(self, events):
        """Whoever reckons the digest of a changed event again must reckon all that follow, too."""
        Event.objects.filter(pk=events[1].pk).update(details={"number": 99})
        seal = Seal.objects.get(number=2)
        forged = audit.event_digest(Event.objects.get(pk=events[1].pk), number=2, previous=seal.previous)
        Seal.objects.filter(number=2).update(digest=forged)
        assert faults() == ("Seal 3 does not follow the one before it.",)

    def test_a_removed_seal_is_found(self, events):
        Seal.objects.filter(number=3)._raw_delete("default")
        assert faults() == ("Seals 3 to 3 are missing.", "Seal 4 does not follow the one before it.")

    def test_changed_names_are_found(self, events):
        EventNames.objects.filter(event=events[2]).update(names={"name": "Another Person"})
        assert faults() == (f"The names kept with event {events[2].pk} are not what was recorded.",)

    def test_names_put_beside_an_event_that_had_none_are_found(self, events):
        EventNames.objects.create(event=events[1], salt="00", names={"name": "Another Person"})
        assert faults() == (f"The names kept with event {events[1].pk} are not what was recorded.",)

    def test_a_cut_off_end_is_found_with_a_digest_noted_earlier(self, events):
        noted = audit.check_chain().head
        Seal.objects.filter(number=5)._raw_delete("default")
        assert faults() == ()  # the chain alone cannot show it
        (fault,) = audit.check_chain(noted).faults
        assert noted in fault

    def test_a_chain_written_anew_is_found_with_a_digest_noted_earlier(self, events):
        noted = audit.check_chain().head
        Seal.objects.all()._raw_delete("default")
        Event.objects.filter(pk=events[0].pk).update(details={"number": 99})
        audit.seal_pending()
        assert faults() == ()
        assert audit.check_chain(noted).faults

    def test_the_command_fails_and_names_the_fault(self, events):
        Event.objects.filter(pk=events[2].pk).update(details={})
        with pytest.raises(CommandError, match=rf"(?s)broken.*Event {events[2].pk} \(seal 3\)"):
            call_command("verify_events", stdout=StringIO())


def test_erasing_names_leaves_the_chain_whole(events):
    EventNames.objects.all().delete()
    assert faults() == ()


def test_a_digest_noted_earlier_is_found_in_a_chain_that_grew(events, coordinator):
    noted = audit.check_chain().head
    audit.record(actor=coordinator, action=Action.COLLECTION_ADDED, subject=a_collection())
    audit.seal_pending()
    assert audit.check_chain(noted).faults == ()


def test_the_digest_noted_while_the_chain_was_empty_is_no_fault_later(db, coordinator):
    noted = audit.check_chain().head
    a_collection()
    audit.seal_pending()
    assert audit.check_chain(noted).faults == ()


def test_the_command_says_that_the_chain_is_whole_and_gives_the_last_digest(events):
    said = StringIO()
    call_command("verify_events", stdout=said)
    assert "The chain is whole: 5 events sealed, 0 waiting" in said.getvalue()
    assert f"Last digest: {Seal.objects.last().digest}" in said.getvalue()


def test_the_command_takes_a_digest_noted_earlier(events):
    call_command("verify_events", known_digest=Seal.objects.get(number=2).digest, stdout=StringIO())
    with pytest.raises(CommandError, match="taken away"):
        call_command("verify_events", known_digest="f" * 64, stdout=StringIO())
