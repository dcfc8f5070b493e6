"""What is found by which words, on PostgreSQL and on SQLite alike."""

import pytest

from intake.interviews.models import State
from intake.queue.models import QueueEntry
from intake.queue.search import found, words_of
from intake.queue.services import bring_up_to_date
from tests.factories import a_part_stored, a_started_interview, an_interview

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("José  Ångström", "jose angstrom"),
        ("TOLL0007.WAV", "toll0007 wav"),
        ("“St. Mary’s” (1912–14)", "st mary s 1912 14"),
        ("Straße", "strasse"),
        ("Ирина Γεωργία", "ирина γεωργια"),
        (" \n\t'; DROP TABLE --", "drop table"),
        ("*:& | !", ""),
    ],
)
def test_words_are_kept_without_case_accents_and_marks(typed, kept):
    assert words_of(typed) == kept


@pytest.fixture
def interview():
    interview = a_started_interview(place="The toll house", summary="Forty years of the cable ferry, told by Zoë.")
    a_part_stored(interview, name="TOLL0007.WAV")
    bring_up_to_date()
    return interview


@pytest.mark.parametrize(
    "asked", ["Marit", "oskarsen", "OSK", "toll house", "house toll", "zoe", "Zoë", "toll0007", "ferry forty", "", "  "]
)
def test_beginnings_of_words_in_any_order_find(interview, asked):
    assert [entry.pk for entry in found(QueueEntry.objects.all(), asked)] == [interview.pk]


@pytest.mark.parametrize("asked", ["karsen", "Marit nobody", "0007", "tollhouse", "x' OR 1=1"])
def test_what_does_not_stand_there_is_not_found(interview, asked):
    assert not found(QueueEntry.objects.all(), asked)


def test_words_that_are_gone_find_nothing_any_more(interview):
    QueueEntry.objects.filter(pk=interview.pk).update(words="quite other words")
    assert not found(QueueEntry.objects.all(), "ferry")
    assert found(QueueEntry.objects.all(), "quite other")


def test_an_accession_is_found_by_its_number():
    interview = an_interview(State.ACCEPTED)
    bring_up_to_date()
    number = interview.accessions.get().number
    assert [entry.pk for entry in found(QueueEntry.objects.all(), number)] == [interview.pk]
