"""The reviewer says no."""

import pytest
from django.core.files.storage import storages

from intake.audit.actions import Action
from intake.interviews.lifecycle import STANDS
from intake.interviews.models import State
from intake.interviews.services import parts_of
from intake.jobs.models import Kind
from intake.workflow import decline
from tests.factories import an_interview, run_jobs
from tests.workflow.told import last_event, refused

pytestmark = pytest.mark.django_db
REASON = "It is not about the crossing."


@pytest.fixture
def interview(volunteer, archivist):
    return an_interview(State.IN_REVIEW, owner=volunteer, reviewer=archivist)


def test_a_declined_interview_says_why(interview, archivist):
    decline(interview.pk, reason=REASON, actor=archivist)
    interview.refresh_from_db()
    assert interview.state == State.DECLINED
    assert last_event(interview, beside=Action.LETTER_WRITTEN) == (Action.DECLINED, archivist, {"message": REASON})
    assert interview.decisions.get().message == REASON


def test_the_volunteer_reads_the_reason(interview, archivist, mailoutbox):
    decline(interview.pk, reason=REASON, actor=archivist)
    run_jobs(Kind.SEND_MESSAGE)
    (sent,) = [mail for mail in mailoutbox if interview.owner.email in mail.to]
    assert REASON in sent.body
    assert sent.subject == "About your interview of 14 Mar 2026"


def test_what_was_handed_in_is_kept(interview, archivist):
    decline(interview.pk, reason=REASON, actor=archivist)
    (part,) = parts_of(interview)
    assert storages["primary"].exists(part.file.key)
    assert storages["replica"].exists(part.file.key)


@pytest.mark.parametrize("nothing", ["", "  \n"])
def test_nothing_is_declined_without_a_reason(interview, archivist, nothing):
    assert refused(decline, interview.pk, reason=nothing, actor=archivist) == (
        "Write to the volunteer why the interview is declined.",
    )


def test_another_archivist_does_not_decide(interview, coordinator):
    assert refused(decline, interview.pk, reason=REASON, actor=coordinator) == (
        "Ines Halloway is reviewing this interview.",
    )


@pytest.mark.parametrize(
    "state", [State.DRAFT, State.SUBMITTED, State.RETURNED, State.ACCEPTED, State.DECLINED, State.WITHDRAWN], ids=str
)
def test_only_what_is_in_review_is_declined(state, archivist):
    (told,) = refused(decline, an_interview(state).pk, reason=REASON, actor=archivist)
    assert told == STANDS[state]
