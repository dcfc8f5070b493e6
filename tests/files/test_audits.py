"""A night reads its share, the right copies first, and goes on where it was stopped; the forecast is the arithmetic."""

from datetime import UTC, date, datetime, timedelta
from uuid import uuid4

import pytest
from django.utils import timezone

from intake.audit.models import Event
from intake.files import audits, fixity, incidents
from intake.files.models import Audit, FixityCheck, Incident, StoredCopy, StoredFile, Upload, UploadState, Why
from intake.jobs.models import Job, JobState, Kind
from intake.jobs.services import enqueue
from tests.factories import a_user, an_upload, at_time
from tests.files.damage import flip, spoil
from tests.stores import CONTENT

pytestmark = pytest.mark.django_db
NIGHT = date(2027, 3, 14)
IN_THE_NIGHT = datetime(2027, 3, 14, 2, 30, tzinfo=UTC)


def nothing(*given: float) -> None:
    """Progress that nobody looks at."""


def read_tonight(moment: datetime = IN_THE_NIGHT, night: date = NIGHT) -> Audit:
    with at_time(moment):
        audits.read_tonight(night, nothing)
    return Audit.objects.get(about=f"night:{night}")


def on_schedule() -> list[tuple[str, str]]:
    """What was read on schedule, in order."""
    return [
        (check.file.name, check.store)
        for check in FixityCheck.objects.filter(why=Why.SCHEDULE).select_related("file").order_by("pk")
    ]


def read_days_ago(file: StoredFile, **days: int) -> None:
    for store, ago in days.items():
        StoredCopy.objects.filter(file=file, store=store).update(read_at=IN_THE_NIGHT - timedelta(days=ago))


# When it is night


@pytest.mark.parametrize(
    ("begins", "ends", "moment", "night"),
    [
        (1, 6, "2027-03-14 00:59", None),
        (1, 6, "2027-03-14 01:00", "2027-03-14"),
        (1, 6, "2027-03-14 05:59", "2027-03-14"),
        (1, 6, "2027-03-14 06:00", None),
        (22, 5, "2027-03-14 21:59", None),
        (22, 5, "2027-03-14 22:00", "2027-03-14"),
        (22, 5, "2027-03-15 04:59", "2027-03-14"),
        (22, 5, "2027-03-15 05:00", None),
        (0, 0, "2027-03-14 12:00", "2027-03-14"),
    ],
)
def test_a_night_is_named_by_the_day_on_which_it_began(settings, begins, ends, moment, night):
    settings.FIXITY_FROM_HOUR, settings.FIXITY_UNTIL_HOUR = begins, ends
    found = audits.night_of(datetime.fromisoformat(f"{moment}+00:00"))
    assert (found and found.isoformat()) == night


def test_the_hours_are_those_of_the_site(settings):
    settings.TIME_ZONE = "America/New_York"
    with timezone.override("America/New_York"):
        assert audits.night_of(datetime(2027, 1, 14, 7, 0, tzinfo=UTC)) == date(2027, 1, 14)
        assert audits.night_of(datetime(2027, 1, 14, 3, 0, tzinfo=UTC)) is None


def test_a_night_is_due_until_it_is_read(file):
    assert audits.is_due(datetime(2027, 3, 14, 12, 0, tzinfo=UTC)) is None
    assert audits.is_due(IN_THE_NIGHT) == NIGHT
    read_tonight()
    assert audits.is_due(IN_THE_NIGHT) is None
    assert audits.is_due(IN_THE_NIGHT + timedelta(days=1)) == NIGHT + timedelta(days=1)


@pytest.mark.parametrize("state", [JobState.WAITING, JobState.RUNNING, JobState.FAILED])
def test_work_that_waits_runs_or_was_given_up_is_not_begun_again(file, state):
    """Else every sweep of the night would nudge a worker for work that goes on for hours."""
    with at_time(IN_THE_NIGHT):
        job = enqueue(Kind.AUDIT_COPIES, NIGHT.isoformat())
    Job.objects.filter(pk=job.pk).update(state=state, lease_until=IN_THE_NIGHT)
    assert audits.is_due(IN_THE_NIGHT) is None
    Job.objects.filter(pk=job.pk).update(state=JobState.DONE)
    assert audits.is_due(IN_THE_NIGHT) == NIGHT


# What is read


def test_a_night_reads_its_share_and_the_longest_unread_first(folders, a_file, settings):
    settings.FIXITY_PERIOD_DAYS = 10
    for number in range(5):
        read_days_ago(a_file(name=f"{number}.WAV"), primary=number, replica=number + 1)
    audit = read_tonight()
    assert audit.budget_bytes == len(CONTENT)  # ten copies in ten nights
    assert on_schedule() == [("4.WAV", "replica")]
    assert audit.ended_because == audits.BUDGET_SPENT
    read_tonight(IN_THE_NIGHT + timedelta(days=1), NIGHT + timedelta(days=1))
    assert on_schedule()[1:] == [("3.WAV", "replica")]


def test_every_copy_is_read_within_the_period_night_after_night(folders, a_file, settings):
    settings.FIXITY_PERIOD_DAYS = 10
    for number in range(7):
        read_days_ago(a_file(name=f"{number}.WAV"), primary=0, replica=0)
    oldest = []
    for night in range(1, 31):
        moment = IN_THE_NIGHT + timedelta(days=night)
        read_tonight(moment, NIGHT + timedelta(days=night))
        oldest.append((moment - min(StoredCopy.objects.values_list("read_at", flat=True))).days)
    assert max(oldest) <= 10


def test_of_what_is_nearly_late_what_was_handed_in_comes_first(folders, a_file, settings):
    settings.FIXITY_NIGHT_BYTES = 2 * len(CONTENT)
    paper, recording = a_file(name="receipt.pdf"), a_file(name="TOLL0001.WAV")
    upload = an_upload(a_user(), length=1)
    Upload.objects.filter(pk=upload.pk).update(offset=1, file=recording, state=UploadState.STORED)
    read_days_ago(paper, primary=200, replica=200)
    read_days_ago(recording, primary=85, replica=85)
    read_tonight()
    assert on_schedule() == [("TOLL0001.WAV", "primary"), ("TOLL0001.WAV", "replica")]


def test_what_the_listing_speaks_against_comes_before_all(folders, a_file, settings):
    settings.FIXITY_NIGHT_BYTES = 1
    old, cut = a_file(name="old.WAV"), a_file(name="cut.WAV")
    read_days_ago(old, primary=200, replica=200)
    folders["replica"].write(cut.key, CONTENT[:-1])
    read_tonight()
    assert set(on_schedule()) >= {("cut.WAV", "replica")}
    assert ("old.WAV", "primary") not in on_schedule()
    assert folders["replica"].read(cut.key) == CONTENT


def test_all_that_is_nearly_late_is_read_if_the_budget_allows(folders, a_file):
    for number in range(3):
        read_days_ago(a_file(name=f"{number}.WAV"), primary=100, replica=3)
    audit = read_tonight()
    assert audit.copies_read == 3
    assert {store for _, store in on_schedule()} == {"primary"}


def test_the_budget_is_kept_to_one_file(folders, a_file, settings):
    settings.FIXITY_NIGHT_BYTES = len(CONTENT) + 1
    for number in range(5):
        read_days_ago(a_file(name=f"{number}.WAV"), primary=100, replica=100)
    assert read_tonight().bytes_read == 2 * len(CONTENT)


def test_a_file_that_has_no_row_for_a_store_is_not_forgotten(file):
    StoredCopy.objects.get(file=file, store="replica").delete()
    read_tonight()
    assert on_schedule()[0] == (file.name, "replica")


def test_a_bad_copy_found_at_night_is_mended_and_counted(file, folders):
    spoil(folders["primary"], file, flip(3))
    read_days_ago(file, primary=100, replica=1)
    audit = read_tonight()
    assert audit.bad_copies == 1
    assert folders["primary"].read(file.key) == CONTENT
    event = Event.objects.get(action="copies-audited")
    assert (event.outcome, event.details["bad_copies"]) == ("failure", 1)
    assert event.details["copies"] == audit.copies_read
    assert event.details["bytes"] == audit.bytes_read


def test_a_night_without_a_fault_is_one_event(folders, a_file):
    for number in range(3):
        read_days_ago(a_file(name=f"{number}.WAV"), primary=100, replica=100)
    read_tonight()
    assert [event.action for event in Event.objects.all()] == ["copies-audited"]


def test_a_store_that_is_gone_is_left_out_and_the_other_is_read(file, folders, tmp_path):
    folders["replica"].root.rename(tmp_path / "unmounted")
    read_days_ago(file, primary=100, replica=100)
    audit = read_tonight()
    assert on_schedule() == [(file.name, "primary")]
    assert audit.bad_copies == 0
    assert [incident.file for incident in Incident.objects.all()] == [None]


# Stopped, and other work


class Killed(BaseException):
    """The process ends here."""


def test_a_night_that_was_stopped_goes_on_and_reads_one_file_again_at_most(folders, a_file, monkeypatch):
    for number in range(4):
        read_days_ago(a_file(name=f"{number}.WAV"), primary=100, replica=100)
    note, left = fixity.note, [3]

    def stopped(*given):
        left[0] -= 1
        if not left[0]:
            raise Killed
        return note(*given)

    with monkeypatch.context() as once:
        once.setattr(fixity, "note", stopped)
        with pytest.raises(Killed):
            read_tonight()
    assert len(on_schedule()) == 2
    audit = read_tonight()
    assert len(on_schedule()) == len(set(on_schedule())) == 8
    assert (audit.copies_read, audit.bytes_read) == (8, 8 * len(CONTENT))


def test_a_night_gives_way_to_a_file_that_has_just_come_in(folders, a_file):
    for number in range(4):
        read_days_ago(a_file(name=f"{number}.WAV"), primary=100, replica=100)
    with at_time(IN_THE_NIGHT):
        job = enqueue(Kind.STORE_UPLOAD, uuid4())
    audit = read_tonight()
    assert (audit.copies_read, audit.finished_at) == (0, None)
    assert audits.is_due(IN_THE_NIGHT) == NIGHT
    Job.objects.filter(pk=job.pk).update(state=JobState.DONE)
    assert read_tonight().copies_read == 8


def test_when_the_hours_are_over_it_ends(folders, a_file):
    read_days_ago(a_file(), primary=100, replica=100)
    audit = read_tonight(datetime(2027, 3, 14, 6, 0, tzinfo=UTC))
    assert (audit.copies_read, audit.ended_because) == (0, audits.WINDOW_OVER)


def test_a_night_that_never_ended_is_closed_by_the_next(file):
    Audit.objects.create(about="night:2027-03-13", why=Why.SCHEDULE, budget_bytes=9)
    read_tonight()
    assert Audit.objects.get(about="night:2027-03-13").ended_because == audits.BROKEN_OFF


def test_one_file_that_somebody_else_reads_does_not_stop_the_night(folders, a_file):
    busy, free = a_file(name="busy.WAV"), a_file(name="free.WAV")
    while busy.pk.hex[:2] == free.pk.hex[:2]:
        free = a_file(name="free.WAV")
    read_days_ago(busy, primary=200, replica=200)
    read_days_ago(free, primary=100, replica=100)
    with fixity.alone_with(busy):
        audit = read_tonight()
    assert ("free.WAV", "primary") in on_schedule()
    assert ("busy.WAV", "primary") not in on_schedule()
    assert audit.ended_because == audits.NOTHING_MORE_TO_HAVE


def test_what_broke_off_while_mending_is_taken_up_first(file, folders, monkeypatch):
    spoil(folders["replica"], file, flip(3))
    with monkeypatch.context() as once:
        once.setattr(incidents, "_restore_from", lambda *given: (_ for _ in ()).throw(Killed))
        with pytest.raises(Killed):
            incidents.examine(file, fixity.Reader(Why.ASKED))
    read_days_ago(file, primary=0, replica=0)
    read_tonight()
    assert folders["replica"].read(file.key) == CONTENT


# The forecast


def test_the_forecast_is_the_arithmetic(folders, a_file, settings):
    settings.FIXITY_NIGHT_BYTES, settings.FIXITY_PERIOD_DAYS = 3 * len(CONTENT), 5
    for number in range(5):
        read_days_ago(a_file(name=f"{number}.WAV"), primary=number, replica=1)
    told = audits.forecast(IN_THE_NIGHT)
    assert (told.copies, told.bytes) == (10, 10 * len(CONTENT))
    assert told.needed_bytes == 2 * len(CONTENT)
    assert told.oldest_at == IN_THE_NIGHT - timedelta(days=4)
    assert (told.hours, told.is_enough) == (5, True)
    assert told.round_days == 4  # 10 copies at 3 a night
    settings.FIXITY_NIGHT_BYTES = 2 * len(CONTENT) - 1
    assert not audits.forecast(IN_THE_NIGHT).is_enough


def test_a_disk_too_slow_for_the_hours_is_told(file, settings):
    settings.FIXITY_PERIOD_DAYS = 1
    assert audits.forecast(timezone.now()).is_enough
    Audit.objects.create(about="night:2027-03-13", why=Why.SCHEDULE, bytes_read=100, seconds=100_000)
    told = audits.forecast(timezone.now())
    assert told.possible_bytes == 18  # a thousandth of a byte a second for five hours
    assert not told.is_enough


def test_an_empty_library_has_nothing_to_read(db):
    told = audits.forecast(IN_THE_NIGHT)
    assert (told.copies, told.tonight_bytes, told.is_enough) == (0, 0, True)


# Asked for


def test_what_is_asked_for_is_read_in_all_copies_with_who_asked(folders, a_file):
    wanted, other = a_file(name="wanted.WAV"), a_file(name="other.WAV")
    person = a_user()
    audit = audits.ask(about="interviews.part:1", actor=person)
    assert audits.ask(about="interviews.part:1", actor=a_user("Lucinda Farrow")) == audit
    told = []
    assert audits.read_all(audit, StoredFile.objects.filter(pk=wanted.pk), lambda *given: told.append(given))
    assert told == [(len(CONTENT), len(CONTENT))]
    checks = FixityCheck.objects.filter(why=Why.ASKED)
    assert {(check.file, check.store, check.by) for check in checks} == {
        (wanted, "primary", person),
        (wanted, "replica", person),
    }
    audit.refresh_from_db()
    assert audit.finished_at is not None
    assert audits.ask(about="interviews.part:1", actor=person) != audit
    assert other.checks.filter(why=Why.ASKED).count() == 0


def test_with_a_budget_it_leaves_off_and_goes_on(folders, a_file):
    for number in range(4):
        a_file(name=f"{number}.WAV")
    audit = audits.open_audit(about="everything", why=Why.ASKED, actor=None)
    assert not audits.read_all(audit, StoredFile.objects.all(), nothing, budget=3 * len(CONTENT))
    assert FixityCheck.objects.filter(why=Why.ASKED).count() == 4
    assert not audits.read_all(audit, StoredFile.objects.all(), nothing, budget=1)
    assert audits.read_all(audit, StoredFile.objects.all(), nothing)
    assert FixityCheck.objects.filter(why=Why.ASKED).count() == 8
