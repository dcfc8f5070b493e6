"""The sweep: whatever is due, abandoned or forgotten by the broker is found on its row."""

import pytest
from django.utils import timezone

from intake.audit import services as audit
from intake.jobs import services as jobs
from intake.jobs.models import Job, JobState, Kind
from intake.jobs.policies import POLICIES
from tests.factories import a_collection, at_time, later, run_jobs
from tests.jobs import nudges

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def by_day():
    """At noon, and never in the hours of the night's readings, which are work that is due too."""
    with at_time(timezone.localtime().replace(hour=12)):
        yield


@pytest.fixture(autouse=True)
def empty_broker():
    nudges.forget_all()
    yield
    nudges.forget_all()


def test_a_job_that_nobody_was_told_of_is_nudged():
    job = jobs.enqueue(Kind.SEND_MESSAGE, 7)  # its transaction has not ended, so no nudge was sent
    assert jobs.sweep() == 1
    assert nudges.taken_from("mail") == [job.pk]


def test_a_lost_nudge_is_sent_again_after_a_lease():
    job = jobs.enqueue(Kind.SEND_MESSAGE, 7)
    jobs.nudge(job)
    nudges.forget_all()
    assert jobs.sweep() == 0  # it may still be on its way
    with at_time(later(seconds=61)):
        assert jobs.sweep() == 1
    assert nudges.taken_from("mail") == [job.pk]


def test_a_job_whose_worker_died_is_nudged():
    job = jobs.enqueue(Kind.SEND_MESSAGE, 7)
    jobs.nudge(job)
    jobs.claim(job.pk)
    nudges.forget_all()
    assert jobs.sweep() == 0
    with at_time(later(seconds=61)):
        assert jobs.sweep() == 1
    assert nudges.taken_from("mail") == [job.pk]


def failing_with(error: Exception):
    def handler(subject, progress):
        raise error

    return handler


def test_a_job_that_waits_for_its_next_try_is_left_alone(monkeypatch):
    monkeypatch.setitem(jobs._handlers, Kind.SEND_MESSAGE, failing_with(OSError("disk")))
    jobs.run(jobs.enqueue(Kind.SEND_MESSAGE, 7).pk)
    assert jobs.sweep() == 0
    with at_time(later(hours=1)):
        assert jobs.sweep() == 1


@pytest.mark.parametrize("ending", [lambda subject, progress: None, failing_with(KeyError("channel"))])
def test_what_has_ended_is_left_alone(monkeypatch, ending):
    monkeypatch.setitem(jobs._handlers, Kind.SEND_MESSAGE, ending)
    jobs.run(jobs.enqueue(Kind.SEND_MESSAGE, 7).pk)
    with at_time(later(days=1)):
        assert jobs.sweep() == 0


def test_a_job_whose_worker_died_at_every_attempt_is_given_up():
    job = jobs.enqueue(Kind.SEND_MESSAGE, 7)
    for attempt in range(POLICIES[Kind.SEND_MESSAGE].attempts):
        with at_time(later(minutes=5 * attempt)):
            assert jobs.claim(job.pk)
    with at_time(later(days=1)):
        assert jobs.sweep() == 0
    job.refresh_from_db()
    assert (job.state, job.error) == (JobState.FAILED, "The worker stopped at every attempt.")


def test_the_sweep_asks_for_sealing_when_there_are_new_events():
    a_collection()
    jobs.sweep()
    assert Job.objects.get(kind=Kind.SEAL_EVENTS).state == JobState.WAITING
    run_jobs(Kind.SEAL_EVENTS)
    assert not audit.is_pending()
    jobs.sweep()
    assert Job.objects.filter(kind=Kind.SEAL_EVENTS).count() == 1


def test_open_work_on_some_subjects_can_be_listed():
    wanted = jobs.enqueue(Kind.MEASURE_PART, 1)
    jobs.enqueue(Kind.MEASURE_PART, 2)
    jobs.enqueue(Kind.MAKE_LISTENING_COPY, 1)
    assert list(jobs.open_jobs(Kind.MEASURE_PART, [1, 3])) == [wanted]


def test_the_beat_sweeps_often_enough_for_lost_work_to_be_found_within_two_minutes(settings):
    """A lease, a nudge that is lost once and two rounds of the sweep."""
    assert settings.JOB_LEASE_SECONDS + 2 * settings.SWEEP_SECONDS <= 120
    assert settings.CELERY_BEAT_SCHEDULE["sweep"]["schedule"] == settings.SWEEP_SECONDS
