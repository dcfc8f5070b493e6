"""What is kept while somebody listens: notes at a time, what was heard, what the opening says aloud."""

import pytest
from django.db import IntegrityError, transaction

from intake import readiness, workflow
from intake.audit.actions import Action
from intake.audit.services import story_of
from intake.errors import Refused
from intake.interviews.models import Mark, State
from intake.interviews.services import Marked, note_marks, parts_of
from intake.jobs.models import Kind
from intake.qc.services import latest_report
from intake.review import listening
from intake.review import services as review
from tests.factories import (
    a_clipped_wav,
    a_user,
    an_archivist,
    an_interview,
    answer_everything,
    narrator_of,
    run_jobs,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def interview(archivist):
    return an_interview(State.IN_REVIEW, reviewer=archivist)


@pytest.fixture
def part(interview):
    return parts_of(interview)[0]


def a_note(part, actor, note="She means the ice of 1956.", kind="topic"):
    return listening.set_mark(part.pk, kind=kind, at_seconds=0.2, note=note, actor=actor)


def test_a_note_is_kept_with_its_time_its_kind_and_whose_it_is(interview, part, archivist):
    mark = a_note(part, archivist)
    assert (mark.kind, mark.at_seconds, mark.note, mark.set_by) == (
        "topic",
        0.2,
        "She means the ice of 1956.",
        archivist,
    )
    event = story_of(interview).last()
    assert (event.action, event.details["at_seconds"], event.words) == (Action.MARK_SET, 0.2, [mark.note])


def test_a_note_is_taken_away_by_whoever_wrote_it_and_the_story_keeps_it(interview, part, archivist, coordinator):
    mark = a_note(part, archivist)
    with pytest.raises(Refused, match="somebody else's, or the recorder's own"):
        listening.remove_mark(mark.pk, actor=coordinator)
    listening.remove_mark(mark.pk, actor=archivist)
    assert not Mark.objects.exists()
    assert story_of(interview).last().action == Action.MARK_REMOVED
    with pytest.raises(Refused, match="taken away already"):
        listening.remove_mark(mark.pk, actor=archivist)


def test_volunteers_note_nothing_and_nobody_sets_the_recorders_marks(part, archivist):
    with pytest.raises(Refused, match="Only the library's staff"):
        a_note(part, a_user("Ada Quill"))
    with pytest.raises(Refused, match="Only the recorder itself"):
        a_note(part, archivist, kind="recorder")
    with pytest.raises(IntegrityError, match="mark_is_the_recorders_or_somebodys"), transaction.atomic():
        Mark.objects.create(part=part, kind="recorder", set_by=archivist, at_seconds=1)


def test_notes_do_not_keep_the_recorders_marks_away(part, archivist):
    """A note may be written before a later version of the meters reads the marks in the file."""
    a_note(part, archivist)
    note_marks(part, [Marked(0.1, 0, "pause", "")])
    assert {mark.kind for mark in part.marks.all()} == {"topic", "recorder"}


# What was heard


def test_stretches_that_meet_are_joined_and_said_twice_counts_once(part, archivist):
    listening.note_heard(part.pk, spans=[(0.0, 0.1), (0.2, 0.3)], actor=archivist)
    assert listening.note_heard(part.pk, spans=[(0.1, 0.2), (0.0, 0.1)], actor=archivist) == [(0.0, 0.3)]
    assert listening.heard_seconds(part, archivist) == pytest.approx(0.3)
    assert listening.heard_seconds(part, an_archivist("Petra")) == 0


def test_nobody_listens_to_endlessly_many_stretches(part, archivist):
    many = [(float(n), n + 0.5) for n in range(listening.MOST_SPANS + 1)]
    with pytest.raises(Refused, match="more stretches"):
        listening.note_heard(part.pk, spans=many, actor=archivist)
    assert listening.heard_seconds(part, archivist) == 0


def test_what_the_reviewer_has_not_heard_is_told_and_stops_nothing(archivist):
    interview = an_interview(State.IN_REVIEW, reviewer=archivist, ready=True)
    part = parts_of(interview)[0]
    assert readiness.worth_knowing(interview) == ["The reviewer has heard 0 % of the recording."]
    listening.note_heard(part.pk, spans=[(0.0, 0.1)], actor=archivist)
    assert readiness.worth_knowing(interview) == ["The reviewer has heard 25 % of the recording."]
    accession = workflow.accept(interview.pk, actor=archivist)
    accepted = story_of(accession.interview).get(action=Action.ACCEPTED)
    assert accepted.details["worth_knowing"] == ["The reviewer has heard 25 % of the recording."]


def test_nothing_is_told_once_all_is_heard(archivist):
    interview = an_interview(State.IN_REVIEW, reviewer=archivist, ready=True)
    listening.note_heard(parts_of(interview)[0].pk, spans=[(0.0, 0.4)], actor=archivist)
    assert readiness.worth_knowing(interview) == []


# The opening


def test_the_opening_is_held_against_what_the_form_has(interview, archivist):
    asked = {one.item: (one.label, one.expected) for one in listening.opening_of(interview)}
    narrator = narrator_of(interview)
    assert asked[f"participant-{narrator.pk}"] == ("Narrator", "Marit Oskarsen")
    assert asked["day"] == ("Day", "14 Mar 2026")
    assert asked["place"] == ("Place", "The kitchen of the old toll house")
    assert len(asked) == 4


def test_what_was_heard_is_kept_and_may_be_put_right(interview, archivist):
    for verdict, note in (("heard", ""), ("differs", " She says “Marit Aas”. ")):
        listening.check_opening(interview.pk, item="day", verdict=verdict, note=note, actor=archivist)
    (check,) = interview.opening_checks.all()
    assert (check.verdict, check.note, check.by) == ("differs", "She says “Marit Aas”.", archivist)
    assert story_of(interview).last().details == {"item": "day", "verdict": "differs"}


def test_only_what_the_form_has_can_be_checked_and_only_by_staff(interview, archivist):
    with pytest.raises(Refused, match="no such thing"):
        listening.check_opening(interview.pk, item="participant-999", verdict="heard", note="", actor=archivist)
    with pytest.raises(Refused, match="Only the library's staff"):
        listening.check_opening(interview.pk, item="day", verdict="heard", note="", actor=interview.owner)


# What becomes of a problem


@pytest.fixture
def clipped(archivist):
    interview = an_interview(State.IN_REVIEW, reviewer=archivist, content=a_clipped_wav(), ready=True)
    return parts_of(interview)[0]


def answer(part, kind, actor):
    for problem in latest_report(part.file).problems:
        review.answer_finding(
            part.pk, code=problem["code"], channel=review.channel_of(problem), kind=kind, answer="Loud.", actor=actor
        )


def test_a_matter_to_ask_about_stops_the_acceptance(clipped, archivist):
    answer(clipped, "ask", archivist)
    told = readiness.missing_before_acceptance(clipped.interview)
    assert told
    assert all(sentence.endswith("is a matter to ask the volunteer about.") for sentence in told)
    answer_everything(clipped.interview, archivist)
    assert readiness.missing_before_acceptance(clipped.interview) == told  # an answer stands until it is changed
    answer(clipped, "accept", archivist)
    assert readiness.missing_before_acceptance(clipped.interview) == []


def test_a_problem_may_be_silent_in_the_copies_that_leave(clipped, archivist):
    answer(clipped, "silence", archivist)
    spans = review.to_silence(latest_report(clipped.file))
    assert spans
    workflow.accept(clipped.interview_id, actor=archivist)
    run_jobs(Kind.MAKE_ACCESS_COPIES)
    made = clipped.interview.outputs.get(kind="access-copy")
    told = story_of(clipped.interview).filter(action=Action.COPY_MADE).last()
    assert told.subject_id == str(made.pk)
    assert told.details["silences"]
