"""Who may hear a recording: what one signer chose, and what holds for the whole interview."""

from datetime import date, timedelta

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from intake.access.services import who_may_hear
from intake.errors import Refused
from intake.releases import restrictions
from intake.releases import services as releases
from intake.releases.models import Access, Release
from intake.releases.restrictions import Restriction
from intake.releases.services import LONGEST_CLOSURE_YEARS
from intake.releases.wordings import digest_of_text, filled, wording_for
from tests.factories import (
    a_signed_release,
    a_signing_session,
    a_started_interview,
    a_typed_signature,
    choices,
    interviewer_of,
    narrator_of,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def interview(volunteer):
    return a_started_interview(volunteer)


def in_days(days: int) -> date:
    return timezone.localdate() + timedelta(days=days)


SOON, LATE = in_days(100), in_days(4000)


@pytest.mark.parametrize(
    ("narrator", "interviewer", "expected"),
    [
        ({}, {}, (None, "open", ())),
        ({"access": "on-site"}, {}, (None, "on-site", ())),
        ({}, {"access": "on-site"}, (None, "on-site", ())),
        ({"access": "closed", "closed_until": SOON}, {}, (SOON, "open", ())),
        ({"access": "closed", "closed_until": SOON}, {"access": "on-site"}, (SOON, "on-site", ())),
        (
            {"access": "closed", "closed_until": SOON},
            {"access": "closed", "closed_until": LATE},
            (LATE, "open", ()),
        ),
        ({"name_withheld": True}, {}, (None, "open", ("narrator",))),
        ({}, {"name_withheld": True}, (None, "open", ("interviewer",))),
    ],
)
def test_the_strictest_of_what_the_signers_chose_holds(interview, narrator, interviewer, expected):
    a_signed_release(narrator_of(interview), **narrator)
    a_signed_release(interviewer_of(interview), **interviewer)
    restriction = restrictions.restriction_of(interview)
    assert (restriction.closed_until, restriction.afterwards, restriction.withheld) == expected


def test_what_one_chose_opens_nothing_while_another_has_not_signed(interview):
    a_signed_release(interviewer_of(interview), access=Access.OPEN)
    assert who_may_hear(interview).startswith("Not everybody has signed yet: only the library's staff")
    a_signed_release(narrator_of(interview), access=Access.ON_SITE)
    assert who_may_hear(interview).startswith("On site only")


def test_while_nobody_has_signed_nothing_is_said(interview):
    assert restrictions.restriction_of(interview) is None


@pytest.mark.parametrize("until", [None, in_days(0), in_days(-1)])
def test_a_closure_ends_on_a_day_to_come(interview, until):
    with pytest.raises(Refused, match="Choose a day after that of the signature"):
        a_signed_release(narrator_of(interview), access="closed", closed_until=until)


def test_a_closure_may_end_tomorrow(interview):
    assert a_signed_release(narrator_of(interview), access="closed", closed_until=in_days(1))


def test_a_closure_longer_than_can_be_promised_is_refused(interview):
    this_year = timezone.localdate().year
    with pytest.raises(Refused, match="at most 100 years"):
        a_signed_release(
            narrator_of(interview), access="closed", closed_until=date(this_year + LONGEST_CLOSURE_YEARS + 1, 1, 1)
        )
    longest = date(this_year + LONGEST_CLOSURE_YEARS, 12, 31)
    assert a_signed_release(narrator_of(interview), access="closed", closed_until=longest)


@pytest.mark.parametrize("access", ["open", "on-site"])
def test_a_day_without_a_closure_is_refused(interview, access):
    with pytest.raises(Refused, match="A day or an event is chosen only where"):
        a_signed_release(narrator_of(interview), access=access, closed_until=SOON)


def test_a_choice_that_was_refused_leaves_the_session_open(interview):
    session = a_signing_session(narrator_of(interview))
    wording = wording_for("release", "narrator", "en")
    with pytest.raises(Refused):
        releases.sign(
            session.pk,
            wording_id=wording.pk,
            text_sha256=digest_of_text(filled(wording, session.participant)),
            choices=choices("closed", None),
            signature=a_typed_signature(),
        )
    assert releases.live_session(session.pk) == session


def test_the_database_lets_no_closure_be_without_its_end(interview):
    release = a_signed_release(narrator_of(interview))
    for wrong in ({"access": "closed"}, {"closed_until": SOON}, {"closed_event": "the sale of the house"}):
        with pytest.raises(IntegrityError, match="closed_release_says_until_when"), transaction.atomic():
            Release.objects.filter(pk=release.pk).update(**wrong)


def test_a_restriction_is_told_in_a_sentence():
    assert Restriction(None, (), Access.OPEN, ()).sentence() == "Open: anyone may hear it."
    told = Restriction(date(2031, 5, 3), (), Access.ON_SITE, ("narrator", "interviewer")).sentence()
    assert told == (
        "Closed until 3 May 2031: until then only the library's staff and the volunteer who recorded it hear it. "
        "After that, on site only. The narrator's name is withheld. The interviewer's name is withheld."
    )


def test_an_event_may_end_a_closure_earlier(interview):
    a_signed_release(narrator_of(interview), access="closed", closed_until=LATE, closed_event="the sale of the house")
    told = restrictions.restriction_of(interview).sentence()
    assert told.startswith("Closed until the sale of the house, at the latest until ")
    with pytest.raises(Refused, match="A day or an event is chosen only where"):
        a_signed_release(interviewer_of(interview), closed_event="the sale of the house")
