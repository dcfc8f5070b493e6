"""The policy asked about real interviews: by day, by signature, by request, by who somebody is."""

from datetime import date, timedelta

import pytest
from django.contrib.auth.models import AnonymousUser
from django.utils import timezone

from intake import workflow
from intake.access.policy import Act, Audience, Situation, may, situation
from intake.access.services import asked, audience_of, refuse_unless, terms_of
from intake.errors import Refused
from intake.interviews.models import State
from intake.people.models import Person
from intake.releases.models import Access
from tests.factories import a_signed_release, a_started_interview, an_interview, narrator_of

pytestmark = pytest.mark.django_db


def on(day: date, interview) -> Situation:
    return situation(terms_of(interview, on=day))


def in_days(days: int) -> date:
    return timezone.localdate() + timedelta(days=days)


@pytest.fixture
def closed():
    """Accepted; the narrator closed it for 30 days, the interviewer leaves it open."""
    return an_interview(State.ACCEPTED, chosen={"access": Access.CLOSED, "closed_until": in_days(30)})


def test_a_closure_opens_on_its_day_and_not_before(closed):
    assert on(in_days(29), closed) == Situation.CLOSED
    assert on(in_days(30), closed) == Situation.OPEN


def test_before_everybody_has_signed_nothing_is_open(volunteer):
    interview = a_started_interview(volunteer)
    a_signed_release(narrator_of(interview), access=Access.OPEN)
    assert situation(terms_of(interview)) == Situation.UNDECIDED


def test_a_request_to_withdraw_stops_access_at_once(archivist, volunteer):
    interview = an_interview(State.ACCEPTED, owner=volunteer, reviewer=archivist)
    assert asked(Act.HEAR, interview, Audience.PUBLIC).allowed
    workflow.ask_withdrawal(interview.pk, wished_by="Marit Oskarsen", reason="It hurts.", actor=volunteer)
    for audience in set(Audience) - {Audience.STAFF}:
        assert not asked(Act.HEAR, interview, audience).allowed
    with pytest.raises(Refused, match="has not decided yet"):
        refuse_unless(Act.TAKE, interview, Audience.STAFF)


def test_who_somebody_is(volunteer, other_volunteer, archivist, coordinator):
    interview = a_started_interview(volunteer)
    assert audience_of(volunteer, interview) == Audience.KEEPER
    assert {audience_of(archivist, interview), audience_of(coordinator, interview)} == {Audience.STAFF}
    assert audience_of(other_volunteer, interview) == Audience.PUBLIC
    assert audience_of(AnonymousUser(), interview) == Audience.PUBLIC
    Person.objects.filter(pk=narrator_of(interview).person_id).update(user=other_volunteer)
    assert audience_of(other_volunteer, interview) == Audience.PARTY
    other_volunteer.is_active = False
    assert audience_of(other_volunteer, interview) == Audience.PUBLIC


def test_the_answer_for_a_day_needs_no_job_to_have_run(closed):
    assert not may(Audience.READING_ROOM, Act.HEAR, terms_of(closed, on=in_days(29))).allowed
    assert may(Audience.READING_ROOM, Act.HEAR, terms_of(closed, on=in_days(30))).allowed
