"""Enqueue, claim, run and sweep.

The row is the work; the Celery message is a nudge that may be lost, doubled or late.
"""

import logging
import threading
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta

from django.conf import settings
from django.db import IntegrityError, OperationalError, close_old_connections, connection, transaction
from django.db.models import Exists, F, OuterRef, Q, QuerySet
from django.utils import timezone

from intake.jobs.models import Job, JobState, Kind
from intake.jobs.policies import POLICIES

logger = logging.getLogger(__name__)

Progress = Callable[[float], None]
Handler = Callable[[str, Progress], None]

_handlers: dict[str, Handler] = {}
_when_given_up: dict[str, Callable[[str, str], None]] = {}
_recurring: list[Callable[[], None]] = []


class ClaimLost(Exception):
    """Another worker has taken this job over: stop without writing anything more."""


def handles(kind: Kind) -> Callable[[Handler], Handler]:
    """Register the function that does one kind of work. It is given the subject's id and a progress function."""

    def register(handler: Handler) -> Handler:
        _handlers[kind] = handler
        return handler

    return register


def gives_up(kind: Kind) -> Callable[[Callable[[str, str], None]], Callable[[str, str], None]]:
    """Register what happens to the subject when its work is given up, in the transaction that says so on the job.

    It is given the subject's id and the error, so that job and subject never tell two stories.
    """

    def register(told: Callable[[str, str], None]) -> Callable[[str, str], None]:
        _when_given_up[kind] = told
        return told

    return register


def recurs(check: Callable[[], None]) -> Callable[[], None]:
    """Register a function that the sweep calls; it enqueues what is due again."""
    _recurring.append(check)
    return check


def enqueue(kind: Kind, subject_id: object) -> Job:
    """Promise the work in the caller's transaction. Asking twice while it is open is one promise."""
    job = None
    while job is None:  # the open job in our way may end before we have read it
        job = _create(kind, subject_id) or open_jobs(kind, [subject_id]).first()
    promised = job
    transaction.on_commit(lambda: nudge(promised), robust=True)
    return promised


def nudge(job: Job) -> None:
    """Tell a worker that a job waits. If the broker is down, the sweep finds the row."""
    from intake.jobs.tasks import run_job  # noqa: PLC0415  service and task of one app need each other

    policy = POLICIES[Kind(job.kind)]
    Job.objects.filter(pk=job.pk).update(nudged_at=timezone.now())
    run_job.apply_async((job.pk,), queue=policy.queue, time_limit=policy.time_limit, retry=False)


def claim(job_id: int) -> Job | None:
    """Take the job for this worker by one conditional UPDATE; None if it is not to be had now."""
    now = timezone.now()
    claimed = (
        _claimable(now)
        .filter(pk=job_id)
        .update(state=JobState.RUNNING, attempts=F("attempts") + 1, lease_until=_lease_from(now), progress=None)
    )
    return Job.objects.get(pk=job_id) if claimed else None


def run(job_id: int) -> None:
    """Do the job if it can be claimed, and write how it ended on its row."""
    job = claim(job_id)
    if job is None:
        return
    policy = POLICIES[Kind(job.kind)]
    try:
        with _heartbeat(job) as progress:
            _handlers[job.kind](job.subject_id, progress)
    except ClaimLost:
        logger.warning("job %s (%s) was taken over by another worker", job.pk, job)
    except policy.retry_on as error:
        _try_again(job, error)
    except Exception as error:  # the worker's outermost edge: every failure is kept on its row
        logger.exception("job %s (%s) failed", job.pk, job)
        _give_up(job, _told(error))
    else:
        _close(job, JobState.DONE)


def sweep() -> int:
    """Enqueue what recurs, close what died too often, and nudge every job that is due or abandoned.

    Returns how many were nudged.
    """
    for check in _recurring:
        check()
    _give_up_the_hopeless()
    now = timezone.now()
    stale = now - timedelta(seconds=settings.JOB_LEASE_SECONDS)
    due = list(
        _claimable(now)
        .filter(Q(nudged_at=None) | Q(nudged_at__lt=stale) | Q(state=JobState.RUNNING))
        .order_by("due_at")[:500]
    )
    for job in due:
        nudge(job)
    return len(due)


def retry_now(job_id: int) -> None:
    """Open a failed job again; a person asked for it."""
    with transaction.atomic():
        job = Job.objects.select_for_update().get(pk=job_id, state=JobState.FAILED)
        enqueue(Kind(job.kind), job.subject_id)


def unfinished() -> QuerySet[Job]:
    """What waits, runs or failed, newest first; a failed job that was asked for again is told by its successor."""
    successors = Job.objects.filter(kind=OuterRef("kind"), subject_id=OuterRef("subject_id"), pk__gt=OuterRef("pk"))
    return Job.objects.exclude(state=JobState.DONE).filter(~Exists(successors)).order_by("-pk")


def open_jobs(kind: Kind, subject_ids: list[object]) -> QuerySet[Job]:
    return Job.objects.filter(
        kind=kind,
        subject_id__in=[str(subject) for subject in subject_ids],
        state__in=[JobState.WAITING, JobState.RUNNING],
    )


def _create(kind: Kind, subject_id: object) -> Job | None:
    """The new job; None if there is an open one."""
    try:
        with transaction.atomic():
            return Job.objects.create(kind=kind, subject_id=str(subject_id), due_at=timezone.now())
    except IntegrityError:
        return None


def _claimable(now: datetime) -> QuerySet[Job]:
    waiting = Q(state=JobState.WAITING, due_at__lte=now)
    abandoned = Q(state=JobState.RUNNING, lease_until__lt=now)
    return Job.objects.filter(waiting | abandoned)


def _lease_from(now: datetime) -> datetime:
    return now + timedelta(seconds=settings.JOB_LEASE_SECONDS)


def _mine(job: Job) -> QuerySet[Job]:
    """The row, only while this attempt still holds it."""
    return Job.objects.filter(pk=job.pk, state=JobState.RUNNING, attempts=job.attempts)


def _close(job: Job, state: JobState, error: str = "") -> bool:
    """Write the end, if this attempt still holds the job; whether it did."""
    closed = _mine(job).update(state=state, error=error, finished_at=timezone.now(), lease_until=None, progress=None)
    if not closed:
        logger.warning("job %s (%s) ended after it was taken over; its result stands once", job.pk, job)
    return bool(closed)


@transaction.atomic
def _give_up(job: Job, error: str) -> None:
    if _close(job, JobState.FAILED, error) and job.kind in _when_given_up:
        _when_given_up[job.kind](job.subject_id, error)


def _try_again(job: Job, error: Exception) -> None:
    policy = POLICIES[Kind(job.kind)]
    if job.attempts >= policy.attempts:
        logger.error("job %s (%s) failed %s times: %s", job.pk, job, job.attempts, error)
        return _give_up(job, _told(error))
    logger.warning("job %s (%s) will be tried again: %s", job.pk, job, error)
    due_at = timezone.now() + timedelta(seconds=policy.delay_after(job.attempts))
    _mine(job).update(state=JobState.WAITING, due_at=due_at, lease_until=None, nudged_at=None, error=_told(error))
    return None


def _give_up_the_hopeless() -> None:
    """A job whose worker died at every attempt would be taken up for ever."""
    for kind, policy in POLICIES.items():
        running = Job.objects.filter(kind=kind, state=JobState.RUNNING, lease_until__lt=timezone.now())
        for job in running.filter(attempts__gte=policy.attempts):
            _give_up(job, "The worker stopped at every attempt.")


def _told(error: Exception) -> str:
    return "".join(traceback.format_exception_only(error)).strip()[:2000]


@contextmanager
def _heartbeat(job: Job) -> Iterator[Progress]:
    """Renew the lease and write progress from a thread while the work runs: only a dead worker's work is taken over."""
    stop, lost, done = threading.Event(), threading.Event(), [0.0]

    def beat() -> None:
        while not stop.wait(settings.JOB_LEASE_SECONDS / 6) and not lost.is_set():
            close_old_connections()
            try:
                if not _mine(job).update(lease_until=_lease_from(timezone.now()), progress=done[0]):
                    lost.set()
            except OperationalError as error:  # more beats follow before the lease runs out
                logger.warning("job %s (%s): a heartbeat did not reach the database: %s", job.pk, job, error)
        connection.close()

    def progress(share: float) -> None:
        if lost.is_set():
            raise ClaimLost
        done[0] = share

    thread = threading.Thread(target=beat, name=f"heartbeat-{job.pk}", daemon=True)
    thread.start()
    try:
        yield progress
    finally:
        stop.set()
        thread.join()
