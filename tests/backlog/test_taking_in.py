"""Each row becomes an interview, stored twice and measured like any other; nothing comes in twice."""

import pytest
from django.core.management import CommandError, call_command
from django.db import IntegrityError, transaction

from intake.audit.actions import Action
from intake.audit.models import Event
from intake.audit.services import story_of
from intake.backlog import services
from intake.backlog.models import BacklogImport, BacklogRow
from intake.errors import Refused
from intake.files import storage
from intake.files.models import StoredFile, Upload, UploadState
from intake.files.services import is_safe
from intake.interviews.models import Interview, Part, State
from intake.interviews.services import parts_of
from intake.jobs import services as jobs
from intake.jobs.models import Job, JobState, Kind
from intake.people import services as people
from intake.people.models import Person
from intake.qc.services import latest_report
from intake.workflow import take_up
from tests.backlog.folder import a_csv, a_folder, check
from tests.factories import a_wav, run_jobs, sha256

pytestmark = pytest.mark.django_db


@pytest.fixture
def folder(tmp_path):
    return a_folder(tmp_path / "tapes", "tape1.wav", "tape2a.wav", "tape2b.wav")


@pytest.fixture(autouse=True)
def staging(tmp_path, settings):
    settings.STAGING_DIR = tmp_path / "staging"


def left_behind() -> set[str]:
    """Copies on their way that no upload knows of. (Those of stored uploads go once the test's transaction ends.)"""
    known = {str(pk) for pk in Upload.objects.values_list("pk", flat=True)}
    return {path.stem for path in storage.settings.STAGING_DIR.glob("*.part")} - known


TWO = ({}, {"files": "tape2a.wav|tape2b.wav", "narrator": "Aurel Lindqvist", "interviewer": ""})


def take_in(plan, actor, *, submit=False) -> tuple[services.Report, list[str]]:
    said: list[str] = []
    assert plan.problems == []
    return services.take_in(plan, actor=actor, submit=submit, say=said.append), said


def test_each_row_is_an_interview_of_its_giver_looked_after_by_the_actor(folder, archivist):
    report, said = take_in(check(folder, *TWO), archivist)
    assert (report.taken, report.bytes, report.notes) == (2, 3 * 12844, [])
    assert said == [
        "Row 2 (1 of 2): “Interview with Marit Oskarsen, 14 Mar 2026”.",
        "Row 3 (2 of 2): “Interview with Aurel Lindqvist, 14 Mar 2026”.",
    ]
    first, second = Interview.objects.order_by("pk")
    assert (first.state, first.owner, first.given_by.name) == (State.DRAFT, archivist, "Jonna Vik")
    assert [person.name for person in first.people("interviewer")] == ["Ilse Brook"]
    assert second.people("interviewer") == []
    assert (first.place, first.summary) == ("Alder Ferry", "Forty years of the cable ferry.")
    assert [part.upload.name for part in parts_of(second)] == ["tape2a.wav", "tape2b.wav"]
    assert second.given_by == first.given_by


def test_files_go_the_way_of_every_file(folder, archivist):
    """Two stores, read back, compared with the bytes in the folder; then measured and copied by jobs."""
    take_in(check(folder, *TWO), archivist)
    for part in Part.objects.all():
        assert is_safe(part.file)
        assert part.file.sha256 == sha256((folder / part.upload.name).read_bytes())
    waiting = Job.objects.filter(state=JobState.WAITING)
    assert waiting.filter(kind=Kind.MEASURE_PART).count() == 3
    run_jobs(Kind.MEASURE_PART)
    assert waiting.filter(kind=Kind.MAKE_LISTENING_COPY).count() == 3
    assert all(latest_report(part.file) for part in Part.objects.all())


def test_the_events_name_the_actor_and_the_giver(folder, archivist):
    take_in(check(folder, {}, leave_unlisted=True), archivist)
    begun = story_of(Interview.objects.get()).first()
    assert (begun.action, begun.actor) == (Action.INTERVIEW_STARTED, archivist)
    assert begun.names.names == {"given_by": "Jonna Vik"}
    ended = Event.objects.get(action=Action.BACKLOG_IMPORTED)
    assert (ended.actor, ended.details["taken"], ended.details["bytes"]) == (archivist, 1, 12844)


def test_what_is_complete_is_handed_in_if_wished_and_the_rest_stays_a_draft(folder, archivist, coordinator):
    report, _ = take_in(check(folder, *TWO), archivist, submit=True)
    assert report.handed_in == 1
    assert report.notes == [(3, "It stays a draft. Name the interviewer.")]
    first, second = Interview.objects.order_by("pk")
    assert (first.state, second.state) == (State.SUBMITTED, State.DRAFT)
    assert take_up(first.pk, actor=archivist)  # looking after it does not make it one's own


def test_somebody_with_two_parts_in_a_row_is_one_person(folder, archivist):
    row = {"giver": "marit oskarsen", "giver_email": "", "narrator_email": "marit@example.org"}
    take_in(check(folder, row, leave_unlisted=True), archivist)
    interview = Interview.objects.get()
    assert interview.people("narrator") == [interview.given_by]
    assert interview.given_by.email == "marit@example.org"


def test_somebody_known_by_name_and_address_is_not_noted_again(folder, archivist):
    known = people.note_person(name="Jonna Vik", email="jonna@example.org", actor=archivist)
    take_in(check(folder, *TWO), archivist)
    assert {interview.given_by for interview in Interview.objects.all()} == {known}


def test_a_name_alone_is_one_person_in_one_import_and_nobody_known_before(folder, archivist):
    """Two people may share a name; within one list somebody meant the same."""
    known = people.note_person(name="Jonna Vik", email="", actor=archivist)
    take_in(check(folder, *({**row, "giver_email": ""} for row in TWO)), archivist)
    (giver,) = {interview.given_by for interview in Interview.objects.all()}
    assert giver != known


def test_two_names_at_one_address_are_two_people(folder, archivist):
    first = {"giver": "Jonna Vik"}
    second = {**TWO[1], "giver": "Per Vik"}
    take_in(check(folder, first, second), archivist)
    assert Person.objects.filter(email="jonna@example.org").count() == 2


# Digests


def test_a_digest_that_matches_is_taken(folder, archivist):
    digest = sha256((folder / "tape1.wav").read_bytes())
    report, _ = take_in(check(folder, {"sha256": digest}, leave_unlisted=True), archivist)
    assert (report.taken, report.notes) == (1, [])


def test_a_digest_that_differs_is_told_and_that_row_alone_is_not_taken(folder, archivist):
    good, wrong = sha256((folder / "tape2a.wav").read_bytes()), "0" * 64
    report, _ = take_in(check(folder, {}, {**TWO[1], "sha256": f"{good}|{wrong}"}), archivist)
    assert report.taken == 1
    ((number, note),) = report.notes
    assert number == 3
    assert note.startswith("not taken. “tape2b.wav” is not the file that the CSV means")
    row = BacklogRow.objects.get(number=3)
    assert (row.interview, row.content) == (None, None)
    assert row.note in note
    assert Interview.objects.count() == 1
    assert left_behind() == set()


# Nothing twice


def everything() -> tuple[int, ...]:
    return tuple(model.objects.count() for model in (Interview, Part, Upload, StoredFile, Person, BacklogRow))


def test_the_same_import_again_makes_nothing_twice(folder, archivist):
    plan = check(folder, *TWO)
    take_in(plan, archivist)
    before = everything()
    report, _ = take_in(plan, archivist)
    assert (report.taken, report.taken_earlier, report.bytes) == (0, 2, 0)
    assert everything() == before
    assert BacklogImport.objects.count() == 1


def test_another_csv_of_the_same_files_takes_nothing_twice(folder, archivist):
    take_in(check(folder, *TWO), archivist)
    report, _ = take_in(check(folder, *({**row, "place": "South bank"} for row in TWO)), archivist)
    assert report.taken == 0
    assert [note.startswith("not taken. “tape") for _, note in report.notes] == [True, True]
    assert "is in the library already" in report.notes[0][1]
    assert Interview.objects.count() == 2


def test_two_files_with_the_same_bytes_in_a_row_are_told(tmp_path, archivist):
    for name in ("a.wav", "copy of a.wav"):
        (tmp_path / name).write_bytes(a_wav())
    report, _ = take_in(check(tmp_path, {"files": "a.wav|copy of a.wav"}), archivist)
    assert report.notes == [(2, "not taken. Two of its files hold the same bytes. Leave one of them out.")]


def test_interrupted_before_a_row_was_written_it_goes_on_with_that_row(folder, archivist, monkeypatch):
    plan = check(folder, *TWO)
    stage, calls = storage.stage, []

    def cut_off(upload_id, source):
        calls.append(source.name)
        if source.name == "tape2b.wav":
            raise KeyboardInterrupt
        return stage(upload_id, source)

    with monkeypatch.context() as during:
        during.setattr(storage, "stage", cut_off)
        with pytest.raises(KeyboardInterrupt):
            take_in(plan, archivist)
    assert Interview.objects.count() == 1
    assert BacklogImport.objects.get().finished_at is None
    report, _ = take_in(plan, archivist)
    assert (report.taken, report.taken_earlier) == (1, 1)
    assert everything()[:3] == (2, 3, 3)
    assert left_behind() == set()


def test_interrupted_before_a_row_was_stored_it_is_stored_now(folder, archivist, monkeypatch):
    plan = check(folder, {}, leave_unlisted=True)

    def cut_off(job_id):
        raise KeyboardInterrupt

    with monkeypatch.context() as during:
        during.setattr(jobs, "run", cut_off)
        with pytest.raises(KeyboardInterrupt):
            take_in(plan, archivist)
    assert Upload.objects.get().state == UploadState.RECEIVED
    report, _ = take_in(plan, archivist, submit=True)
    assert (report.taken_earlier, report.handed_in) == (1, 1)
    assert Upload.objects.get().state == UploadState.STORED


def test_a_full_disk_ends_the_import_in_words_and_it_goes_on_later(folder, archivist, monkeypatch):
    plan = check(folder, *TWO)
    stage = storage.stage

    def full(upload_id, source):
        if source.name == "tape2b.wav":
            raise OSError(28, "No space left on device")
        return stage(upload_id, source)

    with monkeypatch.context() as during:
        during.setattr(storage, "stage", full)
        with pytest.raises(Refused, match="it goes on here"):
            take_in(plan, archivist)
    assert left_behind() == set()
    assert take_in(plan, archivist)[0].taken == 1


def test_a_file_that_went_away_since_it_was_looked_at_costs_its_row_alone(folder, archivist):
    plan = check(folder, *TWO)
    (folder / "tape1.wav").unlink()
    report, _ = take_in(plan, archivist)
    assert report.taken == 1
    assert report.notes == [(2, "not taken. “tape1.wav” cannot be read to its end: No such file or directory.")]


def test_two_imports_do_not_run_at_once(folder, archivist):
    with storage.only_one("backlog-import"), pytest.raises(Refused, match="Another import is running"):
        take_in(check(folder, *TWO), archivist)


def test_a_plan_with_problems_writes_nothing(folder, archivist):
    with pytest.raises(Refused, match="is not in the folder"):
        services.take_in(
            check(folder, {"files": "x.wav"}, leave_unlisted=True), actor=archivist, submit=False, say=print
        )
    assert not BacklogImport.objects.exists()


def test_volunteers_take_nothing_in(folder, volunteer):
    with pytest.raises(Refused, match="Only the library's staff"):
        services.take_in(check(folder, *TWO), actor=volunteer, submit=False, say=print)


def test_the_database_wants_an_interview_or_a_reason(folder, archivist):
    take_in(check(folder, {}, leave_unlisted=True), archivist)
    with pytest.raises(IntegrityError, match="backlog_row_is_an_interview_or_says_why_not"), transaction.atomic():
        BacklogRow.objects.update(interview=None)


# The command


def command(folder, *more: str, actor: str = "ines@example.org", **options) -> None:
    call_command("import_folder", str(folder), "--csv", "back-log.csv", "--actor", actor, *more, **options)


def test_the_command_tells_what_it_did_with_units(folder, archivist, capsys):
    a_csv(folder, *TWO)
    command(folder)
    told = capsys.readouterr().out
    assert "2 rows, 3 files, 38.5 kB." in told
    assert "Taken now: 2 interviews, 38.5 kB, each file stored twice." in told
    assert "Taken in an earlier run: 0. Handed in: 0." in told


def test_a_dry_run_writes_nothing(folder, archivist, capsys):
    a_csv(folder, *TWO)
    before = everything()
    command(folder, "--dry-run")
    assert "Everything is in order. Nothing was written." in capsys.readouterr().out
    assert everything() == before


def test_problems_are_listed_and_nothing_is_written(folder, archivist, capsys):
    a_csv(folder, {"date": "03/04/2026"}, TWO[1], name="back-log.csv")
    with pytest.raises(CommandError, match=r"1 problem\. Nothing was written\."):
        command(folder)
    assert "- Row 2, column “date”: “03/04/2026” can be read as" in capsys.readouterr().err
    assert not Interview.objects.exists()


@pytest.mark.parametrize("actor", ["nobody@example.org", "tobias@example.org"])
def test_the_actor_is_somebody_of_the_staff(folder, volunteer, archivist, actor):
    a_csv(folder, *TWO)
    with pytest.raises(CommandError, match=f"Nobody of the staff signs in with {actor}"):
        command(folder, actor=actor)


def test_a_folder_or_csv_that_is_not_there_is_told(folder, archivist):
    with pytest.raises(CommandError, match="There is no folder"):
        command(folder / "nowhere")
    with pytest.raises(CommandError, match="neither here nor in the folder"):
        command(folder)
