"""The review page: look, listen, answer, decide."""

import pytest
from django.urls import reverse

from intake.interviews.models import State
from intake.interviews.services import parts_of
from intake.jobs.models import Kind
from intake.qc.services import latest_report
from intake.review.services import channel_of
from intake.workflow import accept
from tests.factories import (
    a_clipped_wav,
    a_signed_release,
    a_started_interview,
    a_wav,
    an_interview,
    narrator_of,
    run_jobs,
    sign_everybody,
)
from tests.pages import actions_of, links_of, signed_in, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def browser(archivist):
    return signed_in(archivist)


@pytest.fixture
def clipped(archivist):
    """In review with this archivist: measured and signed, with one problem to answer."""
    interview = an_interview(State.IN_REVIEW, reviewer=archivist, content=a_clipped_wav())
    run_jobs(Kind.MEASURE_PART)
    sign_everybody(interview)
    return interview


@pytest.fixture
def ready(archivist):
    return an_interview(State.IN_REVIEW, reviewer=archivist, ready=True)


def page(name: str, thing) -> str:
    return reverse(f"desk:{name}", args=[thing.pk])


def see(browser, interview):
    return browser.get(page("interview-detail", interview))


def test_an_interview_is_taken_up(browser, archivist):
    interview = an_interview(State.SUBMITTED)
    assert page("interview-take-up", interview) in actions_of(see(browser, interview))
    browser.post(page("interview-take-up", interview))
    interview.refresh_from_db()
    assert (interview.state, interview.reviewer) == (State.IN_REVIEW, archivist)


def test_what_somebody_else_took_up_a_moment_ago_is_told(browser, coordinator):
    interview = an_interview(State.IN_REVIEW, reviewer=coordinator)
    told = text_of(browser.post(page("interview-take-up", interview), follow=True))
    assert "Ottilie Brandt is reviewing this interview." in told


def test_whoever_does_not_review_it_sees_no_way_to_decide(browser, coordinator):
    interview = an_interview(State.IN_REVIEW, reviewer=coordinator, ready=True)
    told = see(browser, interview)
    assert page("interview-accept", interview) not in actions_of(told)
    for hidden in ("interview-send-back", "interview-decline"):
        assert page(hidden, interview) not in links_of(told)


def test_a_decision_by_somebody_else_is_refused_in_a_sentence(browser, coordinator):
    interview = an_interview(State.IN_REVIEW, reviewer=coordinator, ready=True)
    sentence = "Ottilie Brandt is reviewing this interview."
    assert sentence in text_of(browser.post(page("interview-accept", interview), follow=True))
    assert sentence in text_of(browser.post(page("interview-send-back", interview), {"message": "x"}))
    assert sentence in text_of(browser.post(page("interview-decline", interview), {"reason": "x"}))
    interview.refresh_from_db()
    assert interview.state == State.IN_REVIEW


def test_the_checklist_and_the_button_cannot_disagree(browser, clipped):
    told = see(browser, clipped)
    title = latest_report(parts_of(clipped)[0].file).problems[0]["title"]
    assert f"Part 1: “{title}” is not answered." in text_of(told)
    assert page("interview-accept", clipped) not in actions_of(told)
    assert f"“{title}” is not answered." in text_of(browser.post(page("interview-accept", clipped), follow=True))
    clipped.refresh_from_db()
    assert clipped.state == State.IN_REVIEW


def answer(browser, interview, words="Her voice cannot be recorded again."):
    (part,) = parts_of(interview)
    problem = latest_report(part.file).problems[0]
    key = {"code": problem["code"], "channel": channel_of(problem)}
    return part, browser.post(page("part-answer", part), {**key, "kind": "accept", "answer": words})


def test_a_problem_is_answered_and_the_interview_accepted(browser, clipped):
    part, answered = answer(browser, clipped)
    assert answered["Location"].endswith(f"#part-{part.pk}")
    told = see(browser, clipped)
    assert "Her voice cannot be recorded again." in told.content.decode()
    assert "Everything that must hold before acceptance holds." in text_of(told)
    assert page("interview-accept", clipped) in actions_of(told)
    told = text_of(browser.post(page("interview-accept", clipped), follow=True))
    clipped.refresh_from_db()
    assert clipped.state == State.ACCEPTED
    assert f"Accepted as {clipped.accessions.get().number}. The receipt is being made." in told


def test_an_answer_needs_words(browser, clipped):
    part, _ = answer(browser, clipped, " ")
    assert "Write a few words: why it can be accepted, what to ask, or why it is silenced." in text_of(
        see(browser, clipped)
    )
    assert not latest_report(part.file).answers.exists()


def test_an_interview_is_sent_back_with_a_message(browser, ready):
    assert page("interview-send-back", ready) in links_of(see(browser, ready))
    assert "message" in browser.post(page("interview-send-back", ready), {"message": " "}).context["form"].errors
    browser.post(page("interview-send-back", ready), {"message": "Please name the second voice."})
    ready.refresh_from_db()
    assert ready.state == State.RETURNED


def test_an_interview_is_declined_with_a_reason(browser, ready):
    assert "reason" in browser.post(page("interview-decline", ready), {"reason": ""}).context["form"].errors
    browser.post(page("interview-decline", ready), {"reason": "It is not about the crossing."})
    ready.refresh_from_db()
    assert ready.state == State.DECLINED


def test_the_findings_are_located(browser, clipped):
    told = see(browser, clipped).content.decode()
    assert "data-seek" in told
    assert "clipped" in told.lower()


def test_the_releases_and_the_restriction_are_shown(browser, archivist):
    interview = an_interview(State.SUBMITTED)
    release = a_signed_release(narrator_of(interview), access="on-site", name_withheld=True)
    told = text_of(see(browser, interview))
    assert "On site only" in told
    assert "The narrator's name is withheld." in told
    assert release.number in told
    assert "not signed" in told


def test_what_happened_is_told_in_order(browser, clipped):
    told = text_of(see(browser, clipped))
    happened = told[told.index("What happened") :]
    assert happened.index("The interview was begun.") < happened.index("The interview was handed in.")
    assert happened.index("The interview was handed in.") < happened.index("The review was taken up. – Ines Halloway")


def test_an_accepted_interview_shows_its_accession_and_receipt(browser, ready, archivist):
    accession = accept(ready.pk, actor=archivist)
    assert browser.get(page("interview-receipt", ready)).status_code == 404
    assert "The receipt is being made." in text_of(see(browser, ready))
    run_jobs(Kind.MAKE_RECEIPT)
    told = see(browser, ready)
    assert f"Accession {accession.number}" in text_of(told)
    assert page("interview-receipt", ready) in links_of(told)
    assert b"".join(browser.get(page("interview-receipt", ready)).streaming_content).startswith(b"%PDF-")


def test_the_original_comes_byte_for_byte(browser):
    content = a_wav(seconds=0.3)
    interview = an_interview(State.SUBMITTED, content=content)
    answer = browser.get(page("part-original", parts_of(interview)[0]))
    assert b"".join(answer.streaming_content) == content
    assert answer["Content-Disposition"] == 'attachment; filename="TOLL0001.WAV"'


def test_a_part_is_listened_to(browser):
    interview = an_interview(State.SUBMITTED)
    part = parts_of(interview)[0]
    assert browser.get(page("part-listen", part)).status_code == 404
    run_jobs(Kind.MEASURE_PART, Kind.MAKE_LISTENING_COPY)
    assert browser.get(page("part-listen", part), headers={"range": "bytes=0-"}).status_code == 206


def test_a_signers_copy_is_read(browser):
    release = a_signed_release(narrator_of(an_interview(State.SUBMITTED)))
    assert browser.get(page("release-copy", release)).status_code == 404
    run_jobs(Kind.MAKE_RELEASE_COPY)
    assert browser.get(page("release-copy", release)).status_code == 200


@pytest.mark.parametrize("state", list(State), ids=str)
def test_the_page_is_drawn_in_every_state(browser, archivist, state):
    interview = an_interview(state, reviewer=archivist)
    run_jobs()
    told = see(browser, interview)
    assert told.status_code == 200
    assert interview.title in text_of(told)


def test_a_draft_without_a_recording_is_drawn_too(browser):
    assert "No recording has arrived." in text_of(see(browser, a_started_interview()))


def test_words_of_a_volunteer_are_never_taken_for_markup(browser):
    interview = a_started_interview(summary="<script>alert(1)</script>", narrator="<b>Marit</b>")
    told = see(browser, interview).content.decode()
    assert "<script>alert(1)" not in told
    assert "<b>Marit" not in told
