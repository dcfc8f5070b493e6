"""The register page, and undoing an acceptance at the desk."""

import pytest
from django.urls import reverse

from intake.interviews.models import State
from intake.register.services import standing
from intake.workflow import confirm_undo, propose_undo
from tests.factories import an_interview, interviewer_of
from tests.pages import actions_of, links_of, signed_in, text_of

pytestmark = pytest.mark.django_db
REASON = "The release names another recording."


@pytest.fixture
def accepted(volunteer, archivist):
    return an_interview(State.ACCEPTED, owner=volunteer, reviewer=archivist)


def page(name: str, *args: object) -> str:
    return reverse(f"desk:{name}", args=args)


def test_an_empty_register_says_how_a_number_comes_about(archivist):
    assert "Nothing has been accepted yet." in text_of(signed_in(archivist).get(page("register")))


def test_the_register_lists_what_was_accepted_by_whom(accepted, archivist):
    told = text_of(signed_in(archivist).get(page("register")))
    for said in (standing(accepted).number, accepted.title, "Tobias Wrenfield", "Ines Halloway", "Stands"):
        assert said in told


def test_the_register_shows_a_spent_number_with_its_reason(accepted, archivist, coordinator):
    number = propose_undo(accepted.pk, reason=REASON, actor=archivist).number
    browser = signed_in(coordinator)
    assert "Ines Halloway proposes to undo it" in text_of(browser.get(page("register")))
    confirm_undo(accepted.pk, actor=coordinator)
    told = text_of(browser.get(page("register")))
    assert number in told
    assert "Undone" in told
    assert f"by Ines Halloway and Ottilie Brandt: {REASON}" in told


def test_two_people_undo_an_acceptance_at_the_desk(accepted, archivist, coordinator):
    one, other = signed_in(archivist), signed_in(coordinator)
    assert page("interview-undo", accepted.pk) in links_of(one.get(page("interview-detail", accepted.pk)))
    assert "reason" in one.post(page("interview-undo", accepted.pk), {"reason": ""}).context["form"].errors
    mine = one.post(page("interview-undo", accepted.pk), {"reason": REASON}, follow=True)
    assert page("interview-undo-confirm", accepted.pk) not in actions_of(mine)
    assert "Somebody else of the staff confirms it or turns it down." in text_of(mine)
    theirs = other.get(page("interview-undo", accepted.pk))
    assert REASON in text_of(theirs)
    assert page("interview-undo-confirm", accepted.pk) in actions_of(theirs)
    number = standing(accepted).number
    told = text_of(other.post(page("interview-undo-confirm", accepted.pk), follow=True))
    assert f"Accession {number} is undone. The interview is in review again." in told
    assert "Undone acceptances" in told
    assert "In review" in told


def test_the_proposer_who_confirms_all_the_same_is_told(accepted, archivist):
    propose_undo(accepted.pk, reason=REASON, actor=archivist)
    told = signed_in(archivist).post(page("interview-undo-confirm", accepted.pk), follow=True)
    assert "Undoing an acceptance takes two people" in text_of(told)
    accepted.refresh_from_db()
    assert accepted.state == State.ACCEPTED


def test_the_other_lets_the_acceptance_stand(accepted, archivist, coordinator):
    propose_undo(accepted.pk, reason=REASON, actor=archivist)
    browser = signed_in(coordinator)
    again = browser.post(page("interview-undo-refuse", accepted.pk), {"reason": ""})
    assert "reason" in again.context["keep"].errors
    told = browser.post(page("interview-undo-refuse", accepted.pk), {"reason": "It is the right one."}, follow=True)
    assert "proposes to undo" not in text_of(told).split("What happened")[0]
    assert standing(accepted).undo_proposed_by is None


def test_where_nothing_stands_there_is_nothing_to_undo(archivist):
    interview = an_interview(State.SUBMITTED)
    assert "there is nothing to undo" in text_of(signed_in(archivist).get(page("interview-undo", interview.pk)))


def test_a_review_that_is_stuck_offers_to_be_taken_over(volunteer, archivist, coordinator):
    interview = an_interview(State.IN_REVIEW, owner=volunteer, reviewer=archivist)
    browser = signed_in(coordinator)
    assert page("interview-take-over", interview.pk) not in actions_of(
        browser.get(page("interview-detail", interview.pk))
    )
    archivist.is_active = False
    archivist.save()
    shown = browser.get(page("interview-detail", interview.pk))
    assert page("interview-take-over", interview.pk) in actions_of(shown)
    browser.post(page("interview-take-over", interview.pk))
    interview.refresh_from_db()
    assert interview.reviewer == coordinator


def test_ones_own_interview_offers_no_review(archivist, coordinator):
    interview = an_interview(State.SUBMITTED, owner=archivist)
    shown = signed_in(archivist).get(page("interview-detail", interview.pk))
    assert page("interview-take-up", interview.pk) not in actions_of(shown)
    assert "somebody else of the staff reviews it" in text_of(shown)
    assert interviewer_of(interview).person.user == archivist
