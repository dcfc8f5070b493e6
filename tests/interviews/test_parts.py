"""The recordings of an interview: their order, taking one out, and what happens when a file has arrived."""

import pytest
from django.core.files.storage import storages
from django.db import IntegrityError, transaction

from intake.audit.actions import Action
from intake.audit.models import Outcome
from intake.audit.services import story_of
from intake.errors import Refused
from intake.files import storage, storing
from intake.files.models import StoredFile, UploadState
from intake.interviews import services as interviews
from intake.interviews.models import Interview, Part, State
from intake.jobs.models import JobState, Kind
from tests.factories import (
    a_part_arriving,
    a_part_received,
    a_part_stored,
    a_started_interview,
    a_wav,
    an_interview,
    run_jobs,
    sha256,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def interview(volunteer) -> Interview:
    return a_started_interview(volunteer)


@pytest.fixture
def three(interview) -> list[Part]:
    return [a_part_arriving(interview, b"abc", name) for name in ("A.WAV", "B.WAV", "C.WAV")]


def order_of(interview) -> str:
    return "".join(part.upload.name[0] for part in interviews.parts_of(interview))


def places_of(interview) -> list[int]:
    return [part.position for part in interviews.parts_of(interview)]


def move(part, *, earlier):
    interviews.move_part(part.pk, earlier=earlier, actor=part.interview.owner)


def remove(part):
    interviews.remove_part(part.pk, actor=part.interview.owner)


def test_parts_stand_in_the_order_in_which_they_began(interview, three):
    assert (order_of(interview), places_of(interview)) == ("ABC", [1, 2, 3])


@pytest.mark.parametrize(
    ("place", "earlier", "order"),
    [(0, True, "ABC"), (1, True, "BAC"), (2, True, "ACB"), (0, False, "BAC"), (1, False, "ACB"), (2, False, "ABC")],
)
def test_a_part_changes_places_with_its_neighbour(interview, three, place, earlier, order):
    move(three[place], earlier=earlier)
    assert (order_of(interview), places_of(interview)) == (order, [1, 2, 3])


def test_moving_is_recorded_and_staying_is_not(interview, three):
    before = story_of(interview).count()
    move(three[0], earlier=True)
    assert story_of(interview).count() == before
    move(three[0], earlier=False)
    assert (story_of(interview).last().action, story_of(interview).last().details) == (
        Action.PART_MOVED,
        {"position": 2},
    )


@pytest.mark.parametrize(("place", "order"), [(0, "BC"), (1, "AC"), (2, "AB")])
def test_the_gap_closes_when_a_part_is_taken_out(interview, three, place, order):
    remove(three[place])
    assert (order_of(interview), places_of(interview)) == (order, [1, 2])


def test_taking_out_twice_changes_nothing(interview, three):
    remove(three[0])
    before = story_of(interview).count()
    remove(three[0])
    assert (order_of(interview), places_of(interview), story_of(interview).count()) == ("BC", [1, 2], before)


def test_a_part_that_was_taken_out_does_not_move(interview, three):
    remove(three[1])
    move(three[1], earlier=True)
    assert order_of(interview) == "AC"


def test_a_new_part_follows_the_last_one_left(interview, three):
    remove(three[2])
    assert a_part_arriving(interview, b"abc", "D.WAV").position == 3
    assert order_of(interview) == "ABD"


def test_the_database_lets_no_two_parts_have_one_place(interview, three):
    with pytest.raises(IntegrityError), transaction.atomic():
        Part.objects.filter(pk=three[0].pk).update(position=2)


@pytest.mark.parametrize("state", [State.SUBMITTED, State.IN_REVIEW, State.WITHDRAWN], ids=str)
def test_parts_stay_as_they_are_while_the_library_has_them(state):
    interview = an_interview(state, parts=2)
    first = interviews.parts_of(interview)[0]
    for change in (lambda: move(first, earlier=False), lambda: remove(first), lambda: a_part_arriving(interview, b"a")):
        with pytest.raises(Refused, match="with the library now"):
            change()
    assert places_of(interview) == [1, 2]


def test_a_part_refused_leaves_no_upload_behind():
    interview = an_interview(State.SUBMITTED)
    before = interview.parts.count()
    with pytest.raises(Refused):
        a_part_arriving(interview, b"abc")
    assert interview.parts.count() == before


# Arriving


def test_a_part_that_arrived_whole_is_stored(interview, volunteer):
    content = a_wav()
    part = a_part_received(interview, content)
    (job,) = run_jobs(Kind.STORE_UPLOAD)
    part.refresh_from_db()
    assert job.state == JobState.DONE
    assert (part.upload.state, part.file.sha256, part.file.bytes) == (UploadState.STORED, sha256(content), len(content))
    event = story_of(interview).last()
    assert (event.action, event.actor) == (Action.PART_ARRIVED, None)
    assert (event.details["sha256"], event.details["bytes"]) == (sha256(content), len(content))


def test_a_stored_part_is_measured_and_gets_a_listening_copy(interview):
    part = a_part_stored(interview)
    asked = {(job.kind, job.subject_id) for job in run_jobs(Kind.MEASURE_PART, Kind.MAKE_LISTENING_COPY)}
    assert asked == {(Kind.MEASURE_PART, str(part.pk)), (Kind.MAKE_LISTENING_COPY, str(part.pk))}


def test_arriving_twice_is_told_once(interview):
    part = a_part_stored(interview)
    before = story_of(interview).count()
    assert interviews.part_arrived(part.upload_id, part.file) == part
    assert story_of(interview).count() == before
    assert StoredFile.objects.count() == 1


@pytest.fixture
def damaged(interview) -> Part:
    return a_part_received(interview, b"arrived like this", declared=sha256(b"but left like that"))


def test_a_part_that_arrived_damaged_is_told_and_not_stored(interview, damaged):
    (job,) = run_jobs()
    damaged.refresh_from_db()
    event = story_of(interview).last()
    assert job.state == JobState.DONE
    assert (damaged.upload.state, damaged.file) == (UploadState.DAMAGED, None)
    assert (event.action, event.outcome) == (Action.PART_DAMAGED, Outcome.FAILURE)
    assert not StoredFile.objects.exists()


def test_damage_is_told_once(interview, damaged):
    run_jobs()
    before = story_of(interview).count()
    interviews.part_damaged(damaged.upload_id)
    assert story_of(interview).count() == before


def test_a_damaged_part_can_be_taken_out_and_handed_in_again(interview, damaged):
    run_jobs()
    remove(damaged)
    again = a_part_stored(interview, b"but left like that")
    assert (again.position, again.upload.state) == (1, UploadState.STORED)


def test_a_part_taken_out_before_it_was_stored_is_not_called_damaged(interview):
    part = a_part_received(interview)
    remove(part)
    (job,) = run_jobs(Kind.STORE_UPLOAD)
    assert job.state == JobState.DONE
    assert story_of(interview).last().action == Action.PART_STOPPED
    assert not StoredFile.objects.exists()


def test_a_part_taken_out_while_it_was_being_stored_stays_out(interview):
    part = a_part_received(interview)
    file = storing.store(part.upload_id, lambda share: None)
    remove(part)
    assert interviews.part_arrived(part.upload_id, file) is None
    part.refresh_from_db()
    assert (part.position, part.file, part.upload.state) == (None, None, UploadState.STOPPED)
    assert story_of(interview).last().action == Action.PART_STOPPED


def test_the_bytes_of_a_part_on_its_way_go_when_it_is_taken_out(interview, django_capture_on_commit_callbacks):
    part = a_part_received(interview)
    with django_capture_on_commit_callbacks(execute=True):
        remove(part)
    assert not storage.staging_path(part.upload_id).exists()
    assert story_of(interview).last().action == Action.PART_STOPPED


def test_the_bytes_of_a_stored_part_stay_when_it_is_taken_out(interview):
    part = a_part_stored(interview)
    remove(part)
    part.refresh_from_db()
    assert (part.position, part.upload.state) == (None, UploadState.STORED)
    assert storages["primary"].exists(part.file.key)
    assert story_of(interview).last().action == Action.PART_REMOVED


def test_file_names_stand_apart_from_the_story(interview, three):
    """Recorders and people put names of persons into file names."""
    remove(three[0])
    assert ".WAV" not in str(list(story_of(interview).values()))
