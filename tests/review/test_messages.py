"""A message to send an interview back begins with what was found."""

import pytest
from django.urls import reverse

from intake.interviews.models import State
from intake.interviews.services import parts_of
from intake.qc.services import latest_report
from intake.review import listening
from intake.review import services as review
from intake.review.messages import CLOSING, GREETING, begun_message
from tests.factories import a_clipped_wav, an_interview, answer_everything, narrator_of, run_jobs
from tests.pages import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def interview(archivist):
    made = an_interview(State.IN_REVIEW, reviewer=archivist, parts=2, content=a_clipped_wav())
    run_jobs("measure-part")
    return made


def problems_of(part) -> list[dict]:
    return latest_report(part.file).problems


def test_every_problem_that_is_not_answered_is_told_in_the_volunteers_words(interview):
    told = begun_message(interview).split("\n\n")
    assert (told[0], told[-1]) == (GREETING, CLOSING)
    for part in parts_of(interview):
        for problem in problems_of(part):
            assert f"Part {part.position}: {problem['volunteer']}" in told


def test_what_was_answered_is_left_out_and_what_is_to_be_asked_is_asked(interview, archivist):
    first, second = parts_of(interview)
    answer_everything(interview, archivist)
    problem = problems_of(second)[0]
    review.answer_finding(
        second.pk,
        code=problem["code"],
        channel=review.channel_of(problem),
        kind="ask",
        answer="Is there another take?",
        actor=archivist,
    )
    told = begun_message(interview)
    assert f"Part 2: {problem['volunteer']} Is there another take?" in told
    assert "Part 1" not in told
    assert first != second


def test_what_the_opening_says_otherwise_is_asked_without_naming_anybody(interview, archivist):
    narrator = narrator_of(interview)
    for item, verdict in ((f"participant-{narrator.pk}", "differs"), ("place", "not-said"), ("day", "heard")):
        listening.check_opening(interview.pk, item=item, verdict=verdict, note="Aas", actor=archivist)
    told = begun_message(interview)
    assert "Narrator: what is said at the beginning differs from the form. Which is right?" in told
    assert "Place: not said at the beginning." in told
    assert "Day" not in told
    assert "Oskarsen" not in told


def test_with_nothing_found_there_is_thanks_alone(archivist):
    interview = an_interview(State.IN_REVIEW, reviewer=archivist, ready=True)
    assert begun_message(interview) == GREETING


def test_the_form_begins_with_it_and_sends_what_was_made_of_it(interview, archivist):
    browser, page = signed_in(archivist), reverse("desk:interview-send-back", args=[interview.pk])
    assert browser.get(page).context["form"]["message"].value() == begun_message(interview)
    browser.post(page, {"message": "Please come by."})
    assert interview.decisions.get().message == "Please come by."


def test_each_gap_leads_to_where_something_can_be_done(interview, archivist):
    shown = signed_in(archivist).get(reverse("desk:interview-detail", args=[interview.pk]))
    html = shown.content.decode()
    urls = {check.url for check in shown.context["page"].checklist}
    assert urls == {"#releases", *(f"#part-{part.pk}" for part in parts_of(interview))}
    assert all(f'id="{url[1:]}"' in html for url in urls)
