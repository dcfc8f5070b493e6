"""Claiming and doing a job: one worker at a time, the end written on the row, temporary faults tried again."""

from datetime import timedelta

import pytest
from django.db import OperationalError
from django.utils import timezone

from intake.jobs import services as jobs
from intake.jobs.models import Job, JobState, Kind
from intake.jobs.policies import POLICIES, Policy
from intake.jobs.tasks import run_job
from tests.factories import at_time, later

pytestmark = pytest.mark.django_db


@pytest.fixture
def job() -> Job:
    return jobs.enqueue(Kind.SEND_MESSAGE, 7)


@pytest.fixture
def handled_by(monkeypatch):
    """Put another piece of work in the place of the real one, to fail or to meddle as a test needs."""

    def put(handler):
        monkeypatch.setitem(jobs._handlers, Kind.SEND_MESSAGE, handler)

    return put


def failing_with(error: Exception):
    def handler(subject, progress):
        raise error

    return handler


def fresh(job: Job) -> Job:
    return Job.objects.get(pk=job.pk)


def test_a_claim_takes_the_job_and_counts_the_attempt(job, settings):
    claimed = jobs.claim(job.pk)
    assert (claimed.state, claimed.attempts) == (JobState.RUNNING, 1)
    assert claimed.lease_until - timezone.now() <= timedelta(seconds=settings.JOB_LEASE_SECONDS)


def test_a_claimed_job_is_not_to_be_had(job):
    assert jobs.claim(job.pk)
    assert jobs.claim(job.pk) is None


def test_a_job_that_is_not_due_is_not_to_be_had(job):
    with at_time(timezone.now() - timedelta(hours=1)):
        assert jobs.claim(job.pk) is None


def test_a_job_whose_lease_ran_out_is_taken_over(job):
    jobs.claim(job.pk)
    with at_time(later(seconds=59)):
        assert jobs.claim(job.pk) is None
    with at_time(later(seconds=61)):
        assert jobs.claim(job.pk).attempts == 2


def test_a_job_that_went_well_is_done(job, handled_by):
    seen = []
    handled_by(lambda subject, progress: seen.append(subject))
    run_job(job.pk)
    ended = fresh(job)
    assert seen == ["7"]
    assert (ended.state, ended.error, ended.lease_until) == (JobState.DONE, "", None)
    assert ended.finished_at


def test_a_nudge_that_comes_twice_does_the_work_once(job, handled_by):
    seen = []
    handled_by(lambda subject, progress: seen.append(subject))
    run_job(job.pk)
    run_job(job.pk)
    assert seen == ["7"]


def test_a_nudge_for_a_job_that_is_gone_does_nothing(db):
    run_job(123456)


def test_a_fault_that_nobody_expected_is_kept_on_the_row(job, handled_by, caplog):
    handled_by(failing_with(KeyError("channel")))
    jobs.run(job.pk)
    assert fresh(job).state == JobState.FAILED
    assert fresh(job).error == "KeyError: 'channel'"
    assert "Traceback" in caplog.text


@pytest.mark.parametrize("error", [OperationalError("locked"), OSError("disk"), ConnectionResetError("mail")])
def test_a_temporary_fault_is_tried_again_after_a_while(job, handled_by, error):
    handled_by(failing_with(error))
    jobs.run(job.pk)
    waiting = fresh(job)
    assert (waiting.state, waiting.lease_until) == (JobState.WAITING, None)
    assert str(error) in waiting.error
    first_delay = timedelta(seconds=POLICIES[Kind.SEND_MESSAGE].delays[0])
    assert timedelta(0) < waiting.due_at - timezone.now() <= first_delay
    assert jobs.claim(job.pk) is None
    with at_time(timezone.now() + first_delay):
        assert jobs.claim(job.pk)


def test_a_later_try_that_goes_well_clears_the_error(job, handled_by):
    handled_by(failing_with(OSError("disk")))
    jobs.run(job.pk)
    handled_by(lambda subject, progress: None)
    with at_time(later(hours=1)):
        jobs.run(job.pk)
    assert (fresh(job).state, fresh(job).error) == (JobState.DONE, "")


def test_it_is_given_up_after_as_many_attempts_as_the_policy_says(job, handled_by):
    handled_by(failing_with(OSError("disk")))
    attempts = 0
    while fresh(job).state == JobState.WAITING:
        attempts += 1
        with at_time(later(days=attempts)):
            jobs.run(job.pk)
    assert attempts == POLICIES[Kind.SEND_MESSAGE].attempts
    assert fresh(job).state == JobState.FAILED
    assert "disk" in fresh(job).error


def test_the_waits_grow_and_the_last_one_stays():
    policy = Policy(queue="quick", time_limit=1, delays=(10, 60, 600))
    assert [policy.delay_after(attempt) for attempt in (1, 2, 3, 4, 9)] == [10, 60, 600, 600, 600]


def taken_over_while_it_works(job: Job):
    def handler(subject, progress):
        with at_time(later(seconds=61)):
            assert jobs.claim(job.pk)

    return handler


def test_a_late_worker_does_not_finish_the_attempt_of_another(job, handled_by):
    handled_by(taken_over_while_it_works(job))
    jobs.run(job.pk)
    assert (fresh(job).state, fresh(job).attempts) == (JobState.RUNNING, 2)


@pytest.mark.parametrize("error", [OSError("disk"), KeyError("channel")])
def test_a_late_worker_does_not_fail_the_attempt_of_another(job, handled_by, error):
    def handler(subject, progress):
        taken_over_while_it_works(job)(subject, progress)
        raise error

    handled_by(handler)
    jobs.run(job.pk)
    assert (fresh(job).state, fresh(job).error) == (JobState.RUNNING, "")


def test_a_failed_job_is_opened_again_when_a_person_asks(job, handled_by):
    handled_by(failing_with(KeyError("channel")))
    jobs.run(job.pk)
    jobs.retry_now(job.pk)
    again = Job.objects.get(state=JobState.WAITING)
    assert (again.kind, again.subject_id, again.attempts) == (job.kind, job.subject_id, 0)


def test_every_kind_has_a_handler_and_a_policy():
    assert set(jobs._handlers) == set(Kind)
    assert set(POLICIES) == set(Kind)


@pytest.mark.parametrize("kind", list(Kind))
def test_every_policy_lets_work_end_before_it_is_killed(kind):
    policy = POLICIES[kind]
    assert policy.time_limit >= 60
    assert policy.attempts > 1
    assert list(policy.delays) == sorted(policy.delays)
