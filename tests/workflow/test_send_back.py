"""The reviewer returns the interview with a message."""

import pytest

from intake.audit.actions import Action
from intake.interviews.lifecycle import STANDS
from intake.interviews.models import State
from intake.jobs.models import Kind
from intake.mail.models import Message
from intake.workflow import send_back, submit, take_up
from tests.factories import an_interview, run_jobs
from tests.workflow.told import last_event, refused

pytestmark = pytest.mark.django_db
MESSAGE = "Please name the second voice."


@pytest.fixture
def interview(volunteer, archivist):
    return an_interview(State.IN_REVIEW, owner=volunteer, reviewer=archivist)


def test_the_interview_is_with_the_volunteer_again(interview, archivist):
    send_back(interview.pk, message=MESSAGE, actor=archivist)
    interview.refresh_from_db()
    assert interview.state == State.RETURNED
    assert last_event(interview, beside=Action.LETTER_WRITTEN) == (Action.SENT_BACK, archivist, {"message": MESSAGE})


def test_the_decision_is_kept(interview, archivist):
    send_back(interview.pk, message=MESSAGE, actor=archivist)
    decision = interview.decisions.get()
    assert (decision.verdict, decision.message, decision.reviewer) == ("sent-back", MESSAGE, archivist)


def test_the_volunteer_gets_the_message_and_the_address_of_the_interview(interview, archivist, settings, mailoutbox):
    settings.SITE_URL = "https://history.example.org"
    send_back(interview.pk, message=MESSAGE, actor=archivist)
    run_jobs(Kind.SEND_MESSAGE)
    (sent,) = [mail for mail in mailoutbox if interview.owner.email in mail.to]
    assert sent.subject == "Your interview of 14 Mar 2026 needs one more step"
    assert MESSAGE in sent.body
    assert archivist.name in sent.body
    assert f"https://history.example.org/interviews/{interview.pk}/" in sent.body


def test_a_second_return_is_a_message_of_its_own(archivist):
    interview = an_interview(State.RETURNED, reviewer=archivist)
    again(interview, archivist)
    send_back(interview.pk, message="One more thing.", actor=archivist)
    assert Message.objects.filter(to=interview.owner.email).count() == 2


@pytest.mark.parametrize("nothing", ["", "  \n"])
def test_nothing_is_sent_back_without_a_word(interview, archivist, nothing):
    assert refused(send_back, interview.pk, message=nothing, actor=archivist) == (
        "Write to the volunteer what to do next.",
    )


def test_another_archivist_does_not_decide(interview, coordinator):
    assert refused(send_back, interview.pk, message=MESSAGE, actor=coordinator) == (
        "Ines Halloway is reviewing this interview.",
    )


@pytest.mark.parametrize(
    "state", [State.DRAFT, State.SUBMITTED, State.RETURNED, State.ACCEPTED, State.DECLINED, State.WITHDRAWN], ids=str
)
def test_only_what_is_in_review_is_sent_back(state, archivist):
    (told,) = refused(send_back, an_interview(state).pk, message=MESSAGE, actor=archivist)
    assert told == STANDS[state]


def again(interview, archivist):
    submit(interview.pk, actor=interview.owner)
    take_up(interview.pk, actor=archivist)
