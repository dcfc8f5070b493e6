"""What is asked for is listed, in the order asked for, whole and without twins, from wherever a page begins."""

from datetime import timedelta

import pytest
from django.utils import timezone

from intake.queue import lists
from intake.queue.lists import ORDERS, RESTRICTIONS, Asked, Counted, counted, entries, stretch
from intake.queue.models import BY_STAGE, QueueEntry
from tests.queue.rows import some_entries

pytestmark = pytest.mark.django_db


@pytest.fixture
def many() -> list[QueueEntry]:
    """Sixty entries, many of them alike in what they are sorted by."""
    return some_entries(60, seed=7)


def walk(order: str, rows: int) -> tuple[list[int], list[int]]:
    """The numbers read page by page to the end, and back again from there."""
    listed, forward, after = QueueEntry.objects.all(), [], ""
    while True:
        page = stretch(listed, ORDERS[order], rows=rows, after=after)
        forward += [entry.pk for entry in page.rows]
        if not page.after:
            break
        after = page.after
    backward, before = [entry.pk for entry in page.rows], page.before
    while before:
        page = stretch(listed, ORDERS[order], rows=rows, before=before)
        backward = [entry.pk for entry in page.rows] + backward
        before = page.before
    return forward, backward


@pytest.mark.parametrize("rows", [1, 7, 59, 60, 61])
@pytest.mark.parametrize("order", ORDERS)
def test_pages_hold_every_entry_once_in_order_in_both_directions(many, order, rows):
    key = ORDERS[order].column
    expected = sorted(many, key=lambda entry: (getattr(entry, key), entry.pk), reverse=ORDERS[order].is_descending)
    assert walk(order, rows) == ([entry.pk for entry in expected],) * 2


def test_an_entry_that_goes_while_somebody_reads_moves_nothing(many):
    first = stretch(QueueEntry.objects.all(), ORDERS["newest"], rows=10)
    whole = [entry.pk for entry in stretch(QueueEntry.objects.all(), ORDERS["newest"], rows=60).rows]
    QueueEntry.objects.filter(pk=first.rows[-1].pk).delete()
    second = stretch(QueueEntry.objects.all(), ORDERS["newest"], rows=10, after=first.after)
    assert [entry.pk for entry in second.rows] == whole[10:20]


@pytest.mark.parametrize("told", ["", "~", "no place", "5~x", "2026-11-25", "\x00~1"])
@pytest.mark.parametrize("order", ORDERS)
def test_a_place_that_is_none_is_the_beginning(many, order, told):
    first = stretch(QueueEntry.objects.all(), ORDERS[order], rows=5)
    assert stretch(QueueEntry.objects.all(), ORDERS[order], rows=5, after=told).rows == first.rows


@pytest.mark.parametrize("told", [f"{'9' * 40}~1", f"1~{'9' * 40}", f"9999-12-31~{'9' * 40}", "9999-12-31~1"])
@pytest.mark.parametrize("order", ORDERS)
def test_a_place_beyond_everything_breaks_nothing(many, order, told):
    assert len(stretch(QueueEntry.objects.all(), ORDERS[order], rows=5, after=told).rows) <= 5


def test_the_days_work_stands_in_the_order_of_its_stages(many):
    stages = [BY_STAGE.index(entry.state) for entry in stretch(entries(Asked()), ORDERS["work"], rows=60).rows]
    assert stages == sorted(stages)
    assert set(stages) == {0, 1, 2, 3}


ASKED = {
    "state": lambda entry: entry.state == "returned",
    "standing": lambda entry: entry.is_work and entry.standing == "problem",
    "words": lambda entry: "quill" in entry.words,
    "has_reviewer": lambda entry: entry.is_work and entry.reviewer_id is None,
    "waiting_days": lambda entry: entry.is_work and entry.waiting_since < timezone.now() - timedelta(days=30),
}
VALUES = {"state": "returned", "standing": "problem", "words": "Quill", "has_reviewer": False, "waiting_days": 30}


@pytest.mark.parametrize("name", ASKED)
def test_each_question_is_answered_by_those_and_no_others(many, name):
    expected = {entry.pk for entry in many if ASKED[name](entry)}
    assert {entry.pk for entry in entries(Asked(**{name: VALUES[name]}))} == expected
    assert 0 < len(expected) < len(many)


def test_questions_are_asked_together(many):
    collection, reviewer = many[3].collection, next(entry.reviewer_id for entry in many if entry.reviewer_id)
    got = entries(Asked(collection=collection, reviewer_id=reviewer))
    expected = {
        entry.pk for entry in many if entry.is_work and entry.collection == collection and entry.reviewer_id == reviewer
    }
    assert {entry.pk for entry in got} == expected


HOLDS = {
    "open": lambda entry: entry.is_signed and not entry.is_contested and not entry.is_on_site and not shut(entry),
    "on-site": lambda entry: entry.is_on_site,
    "closed": lambda entry: shut(entry),  # noqa: PLW0108  defined below
    "passages": lambda entry: entry.has_closed_passages,
    "withheld": lambda entry: entry.is_name_withheld,
    "unsigned": lambda entry: not entry.is_signed,
    "contested": lambda entry: entry.is_contested,
}


def shut(entry: QueueEntry) -> bool:
    return entry.closed_until is not None and entry.closed_until > timezone.localdate()


@pytest.mark.parametrize("name", RESTRICTIONS)
def test_each_restriction_is_asked_for_as_it_stands_today(many, name):
    expected = {entry.pk for entry in many if entry.is_work and HOLDS[name](entry)}
    assert {entry.pk for entry in entries(Asked(restriction=name))} == expected
    assert expected


def test_counting_stops_where_more_would_say_nothing(many, monkeypatch):
    assert counted(QueueEntry.objects.all()) == Counted(60, is_more=False)
    monkeypatch.setattr(lists, "COUNTED", 59)
    assert str(counted(QueueEntry.objects.all())) == "more than 59"
    assert str(Counted(10_000, is_more=True)) == "more than 10,000"
