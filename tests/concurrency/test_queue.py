"""The queue's entries, while people work and several readers bring them up to date at once."""

from threading import Barrier

import pytest
from django.forms.models import model_to_dict

from intake.interviews.models import Interview, State
from intake.queue import services as queue
from intake.queue.models import QueueEntry, Reader, Touched
from intake.workflow import put_back, take_up
from tests.concurrency.at_once import WAIT, at_once
from tests.factories import an_archivist, an_interview

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def reviewer():
    return an_archivist()


def test_control_a_reader_that_takes_no_turn_lays_an_old_answer_over_a_new_one(reviewer):
    interview = an_interview(State.SUBMITTED)
    queue.bring_up_to_date()
    has_read, has_changed = Barrier(2), Barrier(2)

    def careless():
        old = queue._derived(Interview.objects.get(pk=interview.pk))
        has_read.wait(WAIT)
        has_changed.wait(WAIT)
        old.save(force_update=True)

    def change():
        has_read.wait(WAIT)
        take_up(interview.pk, actor=reviewer)
        queue.bring_up_to_date()
        has_changed.wait(WAIT)

    at_once(careless, change)
    assert not queue.is_any_stale()
    assert QueueEntry.objects.get().state == State.SUBMITTED, "the control shows nothing"


def test_whatever_happens_at_once_the_entries_are_true_in_the_end(reviewer):
    interviews = [an_interview(State.SUBMITTED) for _ in range(4)]

    def move(interview: Interview):
        for _ in range(5):
            take_up(interview.pk, actor=reviewer)
            put_back(interview.pk, actor=reviewer)
        take_up(interview.pk, actor=reviewer)

    def read():
        for _ in range(20):
            queue.bring_up_to_date(3)

    moves = [lambda interview=interview: move(interview) for interview in interviews]
    assert at_once(*moves, read, read, read) == [None] * 7
    while queue.bring_up_to_date():
        pass
    shown = {entry.pk: model_to_dict(entry) for entry in QueueEntry.objects.all()}
    assert {entry["state"] for entry in shown.values()} == {State.IN_REVIEW}
    Touched.objects.bulk_create([Touched(interview=interview.pk, reader=Reader.QUEUE) for interview in interviews])
    queue.bring_up_to_date()
    assert shown == {entry.pk: model_to_dict(entry) for entry in QueueEntry.objects.all()}
