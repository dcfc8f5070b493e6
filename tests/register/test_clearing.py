"""May the card be cleared: one rule for a file, an interview and a loan, and words for every no."""

from datetime import timedelta

import pytest
from django.utils import timezone

from intake.files.models import Upload, UploadState
from intake.interviews import services as interviews
from intake.interviews.models import State
from intake.jobs.models import Kind
from intake.kits import services as kits
from intake.people import services as people
from intake.register import clearing
from tests.factories import (
    a_bad_reading,
    a_part_arriving,
    a_part_received,
    a_part_stored,
    a_started_interview,
    a_user,
    an_archivist,
    an_interview,
    at_time,
    later,
    run_jobs,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def interview(volunteer):
    return a_started_interview(volunteer)


def told(interview) -> tuple[bool, str]:
    found = clearing.of_interview(interview)
    return found.may_be_cleared, " ".join(found.reasons)


def a_safe_part(interview):
    part = a_part_stored(interview)
    run_jobs(Kind.MEASURE_PART)
    return part


def test_an_interview_without_a_recording_clears_nothing(interview):
    assert told(interview) == (False, "Nothing has been handed in.")


def test_all_parts_safe_clear_the_card(interview):
    parts = [a_safe_part(interview), a_safe_part(interview)]
    found = clearing.of_interview(interview)
    assert found.may_be_cleared
    assert [file.sha256 for file in found.files] == [part.file.sha256 for part in parts]
    assert found.in_words == "2 files, all kept twice: the card may be cleared."


def test_one_part_on_its_way_keeps_the_card(interview):
    a_safe_part(interview)
    a_part_arriving(interview, b"abc")
    assert told(interview) == (False, "Part 2 has not come in whole yet.")


def test_a_part_being_compared_keeps_the_card(interview):
    a_part_received(interview)
    assert told(interview) == (False, "Part 1 is still being compared.")


def test_a_part_that_was_not_looked_at_keeps_the_card(interview):
    a_part_stored(interview)
    assert told(interview) == (False, "Part 1 has not been looked at yet, so it may not be whole.")


def test_a_part_that_may_not_be_whole_keeps_the_card(interview):
    a_part_stored(interview, b"no recording at all")
    run_jobs(Kind.MEASURE_PART)
    assert told(interview) == (False, "Part 1 may not be whole, so the card may hold more of it.")


def test_a_damaged_part_keeps_the_card(interview):
    a_part_received(interview, declared="0" * 64)
    run_jobs(Kind.STORE_UPLOAD)
    assert told(interview) == (False, "Part 1 arrived damaged, so the card holds the only good one.")


def test_a_copy_that_turned_bad_keeps_the_card(interview):
    part = a_safe_part(interview)
    a_bad_reading(part.file)
    assert told(interview) == (False, "Part 1 is not kept in two good copies just now.")
    a_bad_reading(part.file, "primary")
    assert "no good copy left" in told(interview)[1]


def test_what_was_taken_out_is_not_asked_about(interview):
    a_safe_part(interview)
    interviews.remove_part(a_part_arriving(interview, b"abc").pk, actor=interview.owner)
    assert told(interview) == (True, "")


@pytest.mark.parametrize(("state", "word"), [(State.WITHDRAWN, "withdrawn"), (State.DECLINED, "declined")])
def test_an_interview_that_is_not_kept_clears_nothing_by_itself(state, word):
    interview = an_interview(state, ready=True)
    run_jobs(Kind.MEASURE_PART)
    assert told(interview) == (False, f"The interview was {word}: ask the library first.")


# Loans


@pytest.fixture
def loan(volunteer):
    archivist = an_archivist()
    kit = kits.add_kit(number="7", contents="recorder", actor=archivist)
    due_on = timezone.localdate() + timedelta(days=14)
    with at_time(later(days=-3)):
        return kits.lend(kit.pk, name=volunteer.name, email=volunteer.email, due_on=due_on, actor=archivist)[0]


def came_in(part, **ago: int) -> None:
    Upload.objects.filter(pk=part.upload_id).update(started_at=later(**{unit: -count for unit, count in ago.items()}))


def test_a_loan_of_which_nothing_came_in_keeps_the_card(loan):
    assert clearing.of_loan(loan).in_words == "Do not clear the card. Nothing has been handed in."


def test_a_loan_with_all_its_recordings_safe_clears_the_card(loan, interview):
    a_safe_part(interview)
    assert clearing.of_loan(loan).in_words == "1 file, kept twice: the card may be cleared."


def test_what_came_in_before_the_loan_is_not_its_own(loan, interview):
    came_in(a_safe_part(interview), days=10)
    assert not clearing.of_loan(loan).may_be_cleared
    a_safe_part(interview)
    assert len(clearing.of_loan(loan).files) == 1


def test_what_is_still_open_from_before_the_loan_is_told(loan, interview):
    a_safe_part(interview)
    came_in(a_part_arriving(interview, b"abc"), days=10)
    assert clearing.of_loan(loan).reasons == ("Interview of 14 Mar 2026: part 2 has not come in whole yet.",)


def test_what_came_in_after_the_kit_was_back_is_not_the_loan_s(loan, interview):
    loan.returned_at = later(days=-1)
    a_safe_part(interview)
    assert not clearing.of_loan(loan).files


def test_what_staff_handed_in_for_the_borrower_counts(loan, volunteer):
    interview = a_started_interview(an_archivist("Petra Lund"))
    interview.given_by = people.person_of(volunteer)
    interview.save()
    a_safe_part(interview)
    assert clearing.of_loan(loan).may_be_cleared


def test_somebody_else_s_recordings_do_not_count(loan):
    a_safe_part(a_started_interview(a_user("Lucinda Farrow")))
    assert not clearing.of_loan(loan).files


def test_no_narrator_is_named_in_what_is_kept_with_a_loan(loan, interview):
    part = a_part_arriving(interview, b"abc", "MARIT-OSKARSEN.WAV")
    assert part.upload.state == UploadState.RECEIVING
    assert "Marit" not in clearing.of_loan(loan).in_words
    assert "MARIT" not in clearing.of_loan(loan).in_words
