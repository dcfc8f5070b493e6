"""Events are written beside the change they tell of, and nobody changes them afterwards."""

import re

import pytest
from django.db import DatabaseError, transaction

from intake.audit import services as audit
from intake.audit.actions import Action
from intake.audit.models import Event, EventNames, Outcome, Seal
from tests.factories import a_collection, a_started_interview


@pytest.fixture
def event(coordinator):
    return audit.record(
        actor=coordinator,
        action=Action.COLLECTION_ADDED,
        subject=a_collection(),
        names={"name": "Marit Oskarsen"},
        note="first",
    )


def test_recording_outside_a_transaction_is_refused():
    with pytest.raises(RuntimeError, match="inside the transaction"):
        audit.record(actor=None, action=Action.PAPER_MADE, subject=Event(pk=1))


def test_an_event_says_who_did_what_to_which_thing(event, coordinator):
    event.refresh_from_db()
    assert (event.actor, event.action, event.outcome) == (coordinator, Action.COLLECTION_ADDED, Outcome.SUCCESS)
    assert (event.subject_type, event.details) == ("interviews.collection", {"note": "first"})
    assert event.thread == f"interviews.collection:{event.subject_id}"


def test_names_stand_apart_from_the_event(event):
    assert "Marit" not in str(Event.objects.filter(pk=event.pk).values().get())
    assert event.names.names == {"name": "Marit Oskarsen"}


def test_the_same_name_has_another_digest_in_another_event(event, coordinator):
    """Without a salt of its own, a name could be guessed from its digest."""
    second = audit.record(
        actor=coordinator, action=Action.COLLECTION_ADDED, subject=a_collection(), names={"name": "Marit Oskarsen"}
    )
    assert second.names_digest != event.names_digest


def test_an_event_without_names_keeps_none(coordinator):
    plain = audit.record(actor=coordinator, action=Action.COLLECTION_ADDED, subject=a_collection())
    assert plain.names_digest == ""
    assert not EventNames.objects.filter(event=plain).exists()


def test_an_event_goes_with_its_change_when_the_transaction_fails(coordinator):
    collection, before = a_collection(), Event.objects.count()

    def a_change_that_fails():
        with transaction.atomic():
            audit.record(actor=coordinator, action=Action.COLLECTION_ADDED, subject=collection)
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        a_change_that_fails()
    assert Event.objects.count() == before


def test_the_story_of_a_thing_is_told_oldest_first(volunteer):
    interview = a_started_interview(volunteer)
    told = [event.action for event in audit.story_of(interview)]
    assert told == [Action.INTERVIEW_STARTED, Action.PARTICIPANT_ADDED, Action.PARTICIPANT_ADDED]


def test_the_story_of_one_thing_leaves_out_the_others(volunteer):
    first, second = a_started_interview(volunteer), a_started_interview(volunteer)
    assert not set(audit.story_of(first)) & set(audit.story_of(second))


@pytest.mark.parametrize("model", [Event, Seal])
def test_the_database_refuses_to_change_what_was_recorded(event, model):
    audit.seal_pending()
    with pytest.raises(DatabaseError, match="never changed or deleted"), transaction.atomic():
        model.objects.update(**({"action": Action.ACCEPTED} if model is Event else {"digest": "0" * 64}))


@pytest.mark.parametrize("model", [Event, Seal])
def test_the_database_refuses_to_delete_what_was_recorded(event, model):
    audit.seal_pending()
    EventNames.objects.all().delete()
    with pytest.raises(DatabaseError, match="never changed or deleted"), transaction.atomic():
        model.objects.all()._raw_delete("default")


@pytest.mark.parametrize("action", list(Action))
def test_every_action_has_its_sentence(action):
    assert re.fullmatch(r"[A-Z].* .*\.", action.label)
    assert Event(action=action).sentence == action.label


def test_no_two_actions_read_the_same():
    assert len(set(Action.labels)) == len(Action)
