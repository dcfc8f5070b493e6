"""Who hears of bad copies, which files belong to what, and the commands of whoever runs the site."""

from io import StringIO

import pytest
from django.core.files.storage import storages
from django.core.management import CommandError, call_command
from django.utils import timezone

from intake import background
from intake.accounts.models import Role
from intake.files import incidents, storage
from intake.files.fixity import Reader
from intake.files.models import Audit, FixityCheck, Incident, StoredFile, Why
from intake.interviews.models import State
from intake.jobs.models import Job, Kind
from intake.jobs.services import sweep
from intake.mail.models import Message
from intake.outputs import custody
from tests.factories import (
    a_form_typed_in,
    a_part_stored,
    a_scan,
    a_started_interview,
    a_user,
    an_accession,
    an_attachment_stored,
    an_interview,
    at_time,
    interviewer_of,
    later,
    run_jobs,
)
from tests.files.damage import Folder, flip, spoil
from tests.stores import CONTENT

pytestmark = pytest.mark.django_db


@pytest.fixture
def coordinator():
    return a_user("Ottilie Brandt", role=Role.COORDINATOR)


@pytest.fixture
def stores(folders) -> dict[str, Folder]:
    """Stores of this test alone, to be spoiled."""
    return folders


def found_bad(file: StoredFile, place: Folder) -> None:
    spoil(place, file, flip(3))
    incidents.examine(file, Reader(Why.ASKED))


# Letters


def test_every_coordinator_is_written_to_once_some_minutes_later(coordinator, stores, a_file):
    other = a_user("Corin Ashgrove", role=Role.COORDINATOR)
    found_bad(a_file(name="TOLL0007.WAV"), stores["replica"])
    sweep()
    assert not Job.objects.filter(kind=Kind.TELL_INCIDENTS).exists()
    with at_time(later(minutes=11)):
        sweep()
        run_jobs(Kind.TELL_INCIDENTS)
        sweep()
        run_jobs(Kind.TELL_INCIDENTS)
    letters = Message.objects.filter(key__startswith="incidents-")
    assert {letter.to for letter in letters} == {coordinator.email, other.email}
    assert len(letters) == 2
    text = letters[0].text
    assert "“TOLL0007.WAV”: The replica copy differs" in text
    assert "Now: restored and read back." in text
    assert "All of it has been put right" in text
    assert "/desk/copies/" in text


def test_many_bad_copies_are_one_letter(coordinator, stores, a_file):
    for number in range(25):
        found_bad(a_file(CONTENT + bytes([number])), stores["replica"])
    assert custody.tell_coordinators() == 25
    letter = Message.objects.get(key__startswith="incidents-")
    assert letter.subject == "Stored copies: 25 incidents"
    assert "And 5 more." in letter.text
    assert custody.tell_coordinators() == 0


def test_what_needs_somebody_is_said_so(coordinator, stores, a_file):
    file = a_file()
    spoil(stores["primary"], file, flip(3))
    found_bad(file, stores["replica"])
    custody.tell_coordinators()
    text = Message.objects.get(key__startswith="incidents-").text
    assert "no good copy to restore it from" in text
    assert "Something still needs you" in text


# By night, by itself


def test_at_night_beat_reads_the_copies(stores, a_file, settings):
    settings.FIXITY_FROM_HOUR = settings.FIXITY_UNTIL_HOUR = 0
    file = a_file()
    spoil(stores["replica"], file, lambda content: content[:-1])
    sweep()
    sweep()
    (job,) = run_jobs(Kind.AUDIT_COPIES)
    assert (job.state, Job.objects.filter(kind=Kind.AUDIT_COPIES).count()) == ("done", 1)
    assert stores["replica"].read(file.key) == CONTENT
    sweep()
    assert Job.objects.filter(kind=Kind.AUDIT_COPIES).count() == 1


def test_by_day_nothing_is_read(stores, a_file, settings):
    settings.FIXITY_FROM_HOUR, settings.FIXITY_UNTIL_HOUR = 1, 6
    a_file()
    with at_time(timezone.now().replace(hour=12)):
        background.audit_when_it_is_night()
    assert not Job.objects.filter(kind=Kind.AUDIT_COPIES).exists()


# What belongs to what


def test_all_files_of_an_interview_are_its_own_and_no_others():
    interview = an_interview(State.DRAFT, parts=2)
    attachment = an_attachment_stored(interview)
    scan = a_scan(a_form_typed_in(interviewer_of(interview)))
    run_jobs()
    a_part_stored(a_started_interview())
    found = set(custody.files_about(custody.about_interview(interview)))
    recordings = {part.file for part in interview.parts.all()}
    assert found >= recordings | {attachment.file, scan.file}
    assert {file.name for file in found - recordings - {attachment.file, scan.file}}  # listening copies and pictures
    part = interview.parts.first()
    of_part = set(custody.files_about(custody.about_part(part)))
    assert part.file in of_part
    assert len(of_part) == 3
    assert custody.files_about(custody.EVERYTHING).count() > len(found)


def test_papers_belong_to_their_interview():
    accession = an_accession()
    run_jobs()
    names = [file.name for file in custody.files_about(custody.about_interview(accession.interview))]
    assert any(name.endswith(".pdf") for name in names)


# Commands


def command(*args: str) -> str:
    out = StringIO()
    call_command(*args, stdout=out)
    return out.getvalue()


def test_check_copies_says_that_all_is_right(stores, a_file):
    file = a_file()
    told = command("check_copies", "--file", str(file.pk))
    assert "2 readings of 1 files" in told
    assert "Every copy is right." in told
    assert Audit.objects.get().finished_at is not None


def test_check_copies_of_everything_fails_loudly_if_one_was_bad_and_mends_it(stores, a_file):
    file, _ = a_file(), a_file(b"another")
    spoil(stores["primary"], file, flip(3))
    with pytest.raises(CommandError, match=f"{file.pk} The primary copy differs.*Now: restored"):
        command("check_copies", "--all")
    assert stores["primary"].read(file.key) == CONTENT
    assert "Every copy is right." in command("check_copies", "--all")


def test_check_copies_goes_on_after_its_budget(stores, a_file):
    for number in range(3):
        a_file(CONTENT + bytes([number]))
    assert "goes on" in command("check_copies", "--all", "--budget", "1")
    command("check_copies", "--all")
    assert FixityCheck.objects.filter(why=Why.ASKED).count() == 6


def test_check_copies_of_one_interview(volunteer):
    interview = a_started_interview(volunteer)
    a_part_stored(interview)
    a_part_stored(a_started_interview(volunteer))
    assert "of 1 files" in command("check_copies", "--interview", str(interview.pk))
    with pytest.raises(CommandError, match="no stored file"):
        command("check_copies", "--interview", "999999")


def test_check_copies_tells_of_a_store_that_is_away(stores, a_file, tmp_path):
    a_file()
    stores["replica"].root.rename(tmp_path / "unmounted")
    with pytest.raises(CommandError, match="The replica store is not there"):
        command("check_copies", "--all")


@pytest.fixture
def lost(stores, a_file) -> StoredFile:
    file = a_file()
    for place in stores.values():
        spoil(place, file, flip(3))
    incidents.examine(file, Reader(Why.ASKED))
    return file


def test_a_good_copy_is_given_back(lost, stores, tmp_path):
    assert "Restored in: primary and replica." in command(
        "give_back_copy", str(lost.pk), str(storage.write(tmp_path / "card.wav", CONTENT))
    )
    assert not Incident.objects.filter(closed_at=None).exists()


@pytest.mark.parametrize(
    ("number", "content", "told"),
    [("of the file", b"else", "SHA-256 differs"), ("x", CONTENT, "No stored file has the number x"), ("", None, "")],
)
def test_anything_else_is_refused_in_words(lost, stores, tmp_path, number, content, told):
    source = tmp_path / "card.wav"
    if content is not None:
        storage.write(source, content)
    with pytest.raises(CommandError, match=told or "No such file"):
        command("give_back_copy", str(lost.pk) if number != "x" else "x", str(source))
    assert Incident.objects.filter(closed_at=None).count() == 2


def test_a_lost_store_is_rebuilt_by_a_command(stores, a_file):
    file = a_file()
    for path in [*stores["replica"].root.rglob("*.wav"), stores["replica"].root / ".store"]:
        path.unlink()
    assert "1 files were placed in the replica store" in command("rebuild_store", "replica")
    assert storages["replica"].exists(file.key)
