"""Answering findings: each problem, in the reviewer's words, while the interview is in review."""

import pytest
from django.db import IntegrityError, transaction

from intake.audit.actions import Action
from intake.audit.services import story_of
from intake.errors import Refused
from intake.interviews.models import State
from intake.interviews.services import parts_of
from intake.jobs.models import Kind
from intake.qc.services import latest_report
from intake.review import services as review
from intake.review.models import Decision, FindingAnswer
from tests.factories import a_clipped_wav, an_interview, run_jobs

pytestmark = pytest.mark.django_db


@pytest.fixture
def interview(archivist):
    """In review with this archivist; its one part is clipped."""
    found = an_interview(State.IN_REVIEW, content=a_clipped_wav(), reviewer=archivist)
    run_jobs(Kind.MEASURE_PART)
    return found


@pytest.fixture
def part(interview):
    return parts_of(interview)[0]


@pytest.fixture
def problem(part):
    return latest_report(part.file).problems[0]


def answer(part, actor, problem, words="Her voice cannot be recorded again.", **changed):
    key = {"code": problem["code"], "channel": review.channel_of(problem), **changed}
    return review.answer_finding(part.pk, kind="accept", answer=words, actor=actor, **key)


def test_a_problem_waits_for_an_answer(part, problem):
    assert review.unanswered(latest_report(part.file)) == [problem]


def test_an_answered_problem_waits_no_more(part, problem, archivist):
    kept = answer(part, archivist, problem)
    assert review.unanswered(latest_report(part.file)) == []
    assert (kept.answer, kept.answered_by) == ("Her voice cannot be recorded again.", archivist)


def test_a_better_answer_replaces_the_first_and_both_are_recorded(interview, part, problem, archivist):
    answer(part, archivist, problem)
    answer(part, archivist, problem, "Only the first minute is clipped.")
    assert FindingAnswer.objects.get().answer == "Only the first minute is clipped."
    told = [event.names.names["answer"] for event in story_of(interview) if event.action == Action.FINDING_ANSWERED]
    assert told == ["Her voice cannot be recorded again.", "Only the first minute is clipped."]


@pytest.mark.parametrize("wrong", [{"code": "no-such-finding"}, {"channel": "7"}, {"code": "format-low"}])
def test_only_a_problem_of_this_part_is_answered(part, problem, archivist, wrong):
    with pytest.raises(Refused, match="not a problem of this part"):
        answer(part, archivist, problem, **wrong)


def test_a_part_that_was_not_measured_has_nothing_to_answer(archivist):
    part = parts_of(an_interview(State.IN_REVIEW, reviewer=archivist))[0]
    with pytest.raises(Refused, match="not a problem of this part"):
        review.answer_finding(part.pk, code="clipped", channel="", kind="accept", answer="x", actor=archivist)


@pytest.mark.parametrize("state", [State.DRAFT, State.SUBMITTED, State.RETURNED, State.DECLINED], ids=str)
def test_findings_are_answered_in_review_alone(state, archivist):
    interview = an_interview(state, content=a_clipped_wav())
    run_jobs(Kind.MEASURE_PART)
    part = parts_of(interview)[0]
    with pytest.raises(Refused, match="while the interview is in review"):
        answer(part, archivist, latest_report(part.file).problems[0])


def test_a_finding_about_one_channel_is_answered_by_channel():
    assert [review.channel_of({"channel": channel}) for channel in (None, 0, 1)] == ["", "0", "1"]
    assert review.channel_of({}) == ""


def test_the_database_keeps_one_answer_per_finding(part, problem, archivist):
    kept = answer(part, archivist, problem)
    values = FindingAnswer.objects.filter(pk=kept.pk).values().get()
    with pytest.raises(IntegrityError), transaction.atomic():
        FindingAnswer.objects.create(**{**values, "id": None})


def test_the_database_lets_no_refusal_be_without_a_message(interview, archivist):
    with pytest.raises(IntegrityError, match="a_no_comes_with_a_message"), transaction.atomic():
        review.record_decision(interview, verdict="declined", message="", actor=archivist)
    assert not Decision.objects.exists()
