"""A promise of work: written with its cause, once while it is open, told to a worker after the commit."""

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from intake.celery import app
from intake.jobs import services as jobs
from intake.jobs.models import Job, JobState, Kind
from intake.jobs.policies import POLICIES
from intake.settings.base import broker_options
from tests.jobs import nudges

pytestmark = pytest.mark.django_db


def test_a_promise_waits_and_is_due_at_once():
    job = jobs.enqueue(Kind.SEND_MESSAGE, 7)
    assert (job.state, job.subject_id, job.attempts) == (JobState.WAITING, "7", 0)
    assert job.due_at <= timezone.now()


def test_asking_twice_while_it_is_open_is_one_promise():
    assert jobs.enqueue(Kind.SEND_MESSAGE, 7) == jobs.enqueue(Kind.SEND_MESSAGE, 7)
    assert Job.objects.count() == 1


def test_asking_while_it_runs_is_the_same_promise():
    job = jobs.enqueue(Kind.SEND_MESSAGE, 7)
    jobs.claim(job.pk)
    assert jobs.enqueue(Kind.SEND_MESSAGE, 7) == job


def test_asking_again_after_the_end_is_a_new_promise(monkeypatch):
    monkeypatch.setitem(jobs._handlers, Kind.SEND_MESSAGE, lambda subject, progress: None)
    job = jobs.enqueue(Kind.SEND_MESSAGE, 7)
    jobs.run(job.pk)
    assert jobs.enqueue(Kind.SEND_MESSAGE, 7) != job


def test_asking_at_the_moment_when_the_open_one_ends_is_a_new_promise(monkeypatch):
    monkeypatch.setitem(jobs._handlers, Kind.SEND_MESSAGE, lambda subject, progress: None)
    first, look = jobs.enqueue(Kind.SEND_MESSAGE, 7), jobs.open_jobs

    def look_too_late(kind, subjects):
        jobs.run(first.pk)
        return look(kind, subjects)

    monkeypatch.setattr(jobs, "open_jobs", look_too_late)
    assert jobs.enqueue(Kind.SEND_MESSAGE, 7).pk > first.pk


def test_different_work_on_one_subject_is_promised_apart():
    assert jobs.enqueue(Kind.MEASURE_PART, 7) != jobs.enqueue(Kind.MAKE_LISTENING_COPY, 7)


def test_the_database_allows_one_open_promise_only():
    jobs.enqueue(Kind.SEND_MESSAGE, 7)
    with pytest.raises(IntegrityError), transaction.atomic():
        Job.objects.create(kind=Kind.SEND_MESSAGE, subject_id="7", due_at=timezone.now(), state=JobState.WAITING)


def test_the_database_allows_no_running_job_without_a_lease():
    with pytest.raises(IntegrityError, match="running_job_has_a_lease"), transaction.atomic():
        Job.objects.create(kind=Kind.SEND_MESSAGE, subject_id="7", due_at=timezone.now(), state=JobState.RUNNING)


def test_the_promise_goes_with_the_change_when_the_transaction_fails():
    def a_change_that_fails():
        with transaction.atomic():
            jobs.enqueue(Kind.SEND_MESSAGE, 7)
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        a_change_that_fails()
    assert not Job.objects.exists()


def test_a_worker_is_nudged_after_the_commit_and_not_before(django_capture_on_commit_callbacks):
    nudges.forget_all()
    with django_capture_on_commit_callbacks(execute=True):
        job = jobs.enqueue(Kind.SEND_MESSAGE, 7)
        assert nudges.taken_from("mail") == []
    assert nudges.taken_from("mail") == [job.pk]


@pytest.mark.parametrize("kind", list(Kind))
def test_each_kind_goes_to_the_queue_of_its_policy(kind, django_capture_on_commit_callbacks):
    nudges.forget_all()
    with django_capture_on_commit_callbacks(execute=True):
        job = jobs.enqueue(kind, 7)
    assert {queue: nudges.taken_from(queue) for queue in nudges.QUEUES} == {
        queue: [job.pk] if queue == POLICIES[kind].queue else [] for queue in nudges.QUEUES
    }


@pytest.fixture
def broker_down(monkeypatch):
    """The broker's address leads nowhere: nothing listens on the discard port (RFC 863) of this machine."""
    address, kept = "redis://127.0.0.1:9/0", dict(app.conf.changes)
    app.conf.update(broker_url=address, broker_write_url=address, broker_transport_options=broker_options(address))
    monkeypatch.setattr(app.amqp, "_producer_pool", None)
    monkeypatch.setattr(app, "_pool", None)
    yield
    app.conf.changes.clear()
    app.conf.update(kept)


def test_a_broker_that_is_down_does_not_undo_the_promise(broker_down, django_capture_on_commit_callbacks, caplog):
    with django_capture_on_commit_callbacks(execute=True):
        job = jobs.enqueue(Kind.SEND_MESSAGE, 7)
    assert "Error calling" in caplog.text  # the nudge did fail, and somebody can read it
    assert Job.objects.get(pk=job.pk).state == JobState.WAITING


def test_a_page_does_not_wait_for_a_broker_that_is_down():
    """Without these, kombu was seen to try for six seconds per nudge before it gave up."""
    options = broker_options("redis://127.0.0.1:9/0")
    assert options["max_retries"] * (options["interval_start"] + options["interval_step"]) == 0
    assert options["socket_connect_timeout"] <= 2
