"""What may happen once: a job's claim, a code, a link, a loan, a seal, a stored file."""

import io
from datetime import timedelta
from threading import Barrier, Event, current_thread

import pytest
from django.db import IntegrityError, OperationalError, transaction
from django.utils import timezone

from intake.accounts.models import Role, User
from intake.audit import services as audit
from intake.audit.actions import Action
from intake.audit.models import Seal
from intake.errors import Refused
from intake.files import storage, storing, uploads
from intake.files.models import FixityCheck, StoredFile, Upload
from intake.jobs import services as jobs
from intake.jobs.models import Job, JobState, Kind
from intake.kits import services as kits
from intake.kits.models import Card, Loan
from intake.people import services as people
from intake.qc import services as qc
from intake.qc.models import QCReport
from tests.concurrency.at_once import WAIT, at_once, refusals
from tests.factories import (
    PASSWORD,
    a_collection,
    a_part_received,
    a_part_stored,
    a_started_interview,
    a_user,
    an_archivist,
    an_upload,
    sha256,
)

pytestmark = pytest.mark.django_db(transaction=True)
MANY = 6
CONTENT = b"0123456789" * 1000


# Jobs


def test_control_a_claim_that_reads_and_then_writes_is_won_twice():
    job = jobs.enqueue(Kind.SEND_MESSAGE, 7)
    both_have_read = Barrier(2)

    def claim_carelessly():
        found = Job.objects.get(pk=job.pk)
        both_have_read.wait(WAIT)
        if found.state == JobState.WAITING:
            Job.objects.filter(pk=job.pk).update(state=JobState.RUNNING, lease_until=timezone.now())
            return found
        return None

    assert all(at_once(claim_carelessly, claim_carelessly))


def test_one_worker_gets_a_job():
    job = jobs.enqueue(Kind.SEND_MESSAGE, 7)
    ended = at_once(*[lambda: jobs.claim(job.pk)] * MANY)
    assert len([claimed for claimed in ended if claimed]) == 1
    assert Job.objects.get().attempts == 1


def test_one_worker_takes_over_what_another_left():
    job = jobs.enqueue(Kind.SEND_MESSAGE, 7)
    jobs.claim(job.pk)
    Job.objects.update(lease_until=timezone.now() - timedelta(seconds=1))
    ended = at_once(*[lambda: jobs.claim(job.pk)] * MANY)
    assert [claimed.attempts for claimed in ended if claimed] == [2]


def test_asking_at_once_is_one_promise():
    ended = at_once(*[lambda: jobs.enqueue(Kind.SEND_MESSAGE, 7)] * MANY)
    assert len(set(ended)) == 1
    assert Job.objects.count() == 1


def test_the_lease_is_renewed_while_the_work_runs(settings, monkeypatch):
    """So that a four-hour file keeps its worker, and only a dead worker's work is taken over."""
    settings.JOB_LEASE_SECONDS = 1.2  # a beat every 0.2 s
    renewed = Event()
    job = jobs.enqueue(Kind.SEND_MESSAGE, 7)

    def work(subject, progress):
        first = Job.objects.get(pk=job.pk).lease_until
        progress(0.5)
        while not renewed.wait(0.05):
            now = Job.objects.get(pk=job.pk)
            if now.lease_until > first and now.progress == 0.5:
                renewed.set()

    monkeypatch.setitem(jobs._handlers, Kind.SEND_MESSAGE, work)
    assert refusals(at_once(lambda: jobs.run(job.pk)), Refused) == []
    assert Job.objects.get().state == JobState.DONE


def test_a_heartbeat_that_misses_the_database_is_followed_by_another(settings, monkeypatch):
    settings.JOB_LEASE_SECONDS = 1.2
    job = jobs.enqueue(Kind.SEND_MESSAGE, 7)
    missed, renewed, mine = Event(), Event(), jobs._mine

    def away_once(claimed):
        if current_thread().name.startswith("heartbeat") and not missed.is_set():
            missed.set()
            raise OperationalError("the database is restarting")
        return mine(claimed)

    def work(subject, progress):
        first = Job.objects.get(pk=job.pk).lease_until
        while not renewed.wait(0.05):
            if Job.objects.get(pk=job.pk).lease_until > first:
                renewed.set()

    monkeypatch.setattr(jobs, "_mine", away_once)
    monkeypatch.setitem(jobs._handlers, Kind.SEND_MESSAGE, work)
    assert refusals(at_once(lambda: jobs.run(job.pk)), Refused) == []
    assert missed.is_set()
    assert Job.objects.get().state == JobState.DONE


def test_a_worker_whose_job_was_taken_over_stops(settings, monkeypatch):
    settings.JOB_LEASE_SECONDS = 1.2
    job = jobs.enqueue(Kind.SEND_MESSAGE, 7)
    steps = []

    def work(subject, progress):
        Job.objects.filter(pk=job.pk).update(attempts=2)  # as another worker's claim does
        while len(steps) < 1000:
            progress(0.5)
            steps.append(1)
            Event().wait(0.05)

    monkeypatch.setitem(jobs._handlers, Kind.SEND_MESSAGE, work)
    at_once(lambda: jobs.run(job.pk))
    assert len(steps) < 1000
    assert Job.objects.get().state == JobState.RUNNING  # it is the other worker's to finish


# Uploads


def test_control_two_writers_without_the_lock_spoil_the_file():
    """Both read offset 0, and both count their bytes: the row claims twice what the file holds."""
    upload = an_upload(a_user(), length=len(CONTENT) * 2)
    both_have_read = Barrier(2)

    def append_carelessly():
        found = Upload.objects.get(pk=upload.pk)
        both_have_read.wait(WAIT)
        with storage.staging_path(upload.pk).open("ab") as file:
            file.seek(found.offset)
            file.write(CONTENT)
        Upload.objects.filter(pk=upload.pk).update(offset=found.offset + len(CONTENT))

    at_once(append_carelessly, append_carelessly)
    assert Upload.objects.get().offset != storage.staging_path(upload.pk).stat().st_size


def test_two_writers_to_one_upload_write_in_turn_or_not_at_all():
    upload = an_upload(a_user(), length=len(CONTENT))

    def append():
        return uploads.append(upload.pk, offset=0, body=io.BytesIO(CONTENT), checksum=None)

    ended = at_once(*[append] * MANY)
    refused = [end for end in ended if isinstance(end, (storage.Busy, uploads.WrongOffset, Refused))]
    assert len(refused) == MANY - 1
    assert Upload.objects.get().offset == len(CONTENT)
    assert storage.staging_path(upload.pk).read_bytes() == CONTENT


def test_the_last_piece_and_the_digest_at_once_ask_for_storing_once():
    for _ in range(5):
        upload = an_upload(a_user(), length=len(CONTENT))
        at_once(
            lambda upload=upload: uploads.append(upload.pk, offset=0, body=io.BytesIO(CONTENT), checksum=None),
            lambda upload=upload: uploads.declare_digest(upload.pk, sha256(CONTENT)),
        )
        assert Job.objects.filter(kind=Kind.STORE_UPLOAD, subject_id=str(upload.pk)).count() == 1


def test_two_workers_that_store_one_file_store_it_once():
    part = a_part_received(a_started_interview(), CONTENT)
    ended = at_once(*[lambda: storing.store(part.upload_id, lambda share: None)] * 3)
    assert refusals(ended, Refused) == []
    assert StoredFile.objects.count() == 1
    assert {check.matches for check in FixityCheck.objects.all()} == {True}
    with storage.open_copy("primary", StoredFile.objects.get().key) as copy:
        assert copy.read() == CONTENT


def test_two_workers_that_measure_one_part_keep_one_report():
    part = a_part_stored(a_started_interview())
    ended = at_once(*[lambda: qc.measure_part(part.pk, lambda share: None)] * 3)
    assert refusals(ended, Refused) == []
    assert QCReport.objects.count() == 1
    assert [event.action for event in audit.story_of(part.interview)].count(Action.PART_MEASURED) == 1


# Codes, links, loans


def lent() -> tuple[Loan, str]:
    archivist = an_archivist()
    kit = kits.add_kit(number="7", contents="", actor=archivist)
    due_on = timezone.localdate() + timedelta(days=14)
    return kits.lend(kit.pk, name="Lucinda Farrow", email="lucinda@example.org", due_on=due_on, actor=archivist)


def test_control_a_code_that_is_looked_at_and_then_spent_is_spent_twice():
    loan, _ = lent()
    both_have_read = Barrier(2)

    def redeem_carelessly():
        found = Loan.objects.get(pk=loan.pk)
        both_have_read.wait(WAIT)
        if found.code_used_at is None:
            Loan.objects.filter(pk=loan.pk).update(code_used_at=timezone.now())
            return found
        return None

    assert all(at_once(redeem_carelessly, redeem_carelessly))


def test_a_code_is_redeemed_once():
    _, code = lent()
    ended = at_once(*[lambda: kits.redeem_code(code, name="Lucinda Farrow", password=PASSWORD)] * 4)
    assert len(refusals(ended, Refused)) == 3
    assert User.objects.filter(email="lucinda@example.org").count() == 1


def test_a_link_opens_one_account():
    secrets = []

    def url_for(token):
        secrets.append(token)
        return token

    people.invite(name="Lucinda", email="l@example.org", role=Role.VOLUNTEER, actor=an_archivist(), url_for=url_for)
    ended = at_once(*[lambda: people.accept_invitation(secrets[0], name="Lucinda", password=PASSWORD)] * 4)
    assert len(refusals(ended, Refused)) == 3
    assert User.objects.filter(email="l@example.org").count() == 1


def test_two_clerks_lend_one_kit_once():
    archivist = an_archivist()
    kit = kits.add_kit(number="7", contents="", actor=archivist)
    due_on = timezone.localdate() + timedelta(days=14)

    def lend(email):
        return kits.lend(kit.pk, name="Somebody", email=email, due_on=due_on, actor=archivist)

    ended = at_once(lambda: lend("a@example.org"), lambda: lend("b@example.org"))
    assert len(refusals(ended, Refused)) == 1
    assert Loan.objects.count() == 1


def test_a_kit_comes_back_once():
    loan, _ = lent()
    back = {"condition": "", "card": Card.CLEARED, "told_of_card": ""}
    ended = at_once(*[lambda: kits.take_back(loan.pk, **back, actor=loan.lent_by)] * 2)
    assert len(refusals(ended, Refused)) == 1


# The chain of events


def test_control_two_seals_read_and_then_written_would_fork_the_chain():
    """Both read the same last seal, and both would give their event the next number."""
    record_some(2)
    first, second = audit.Event.objects.order_by("id")[:2]
    both_have_read = Barrier(2)

    def next_place_carelessly(event):
        last = Seal.objects.order_by("-number").first()
        both_have_read.wait(WAIT)
        return (last.number if last else 0) + 1, last.digest if last else audit.FIRST

    places = at_once(lambda: next_place_carelessly(first), lambda: next_place_carelessly(second))
    assert places[0] == places[1]


def test_two_seals_at_once_do_not_fork_the_chain():
    for _ in range(3):
        record_some(5)
        ended = at_once(*[audit.seal_pending] * 4)
        assert all(isinstance(end, (int, IntegrityError)) for end in ended)
        audit.seal_pending()
        check = audit.check_chain()
        assert check.faults == ()
        assert check.unsealed == 0
    assert list(Seal.objects.values_list("number", flat=True)) == list(range(1, audit.Event.objects.count() + 1))


def record_some(count: int) -> None:
    collection = a_collection()
    for _ in range(count):
        with transaction.atomic():
            audit.record(actor=None, action=Action.COLLECTION_ADDED, subject=collection)
