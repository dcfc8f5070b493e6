"""Handing the device over: the volunteer is signed out, and the browser shows one release."""

import pytest
from django.urls import reverse

from intake.audit.actions import Action
from intake.audit.services import story_of
from intake.interviews.models import State
from intake.releases.models import SigningSession
from tests.factories import a_signed_release, a_started_interview, an_interview, narrator_of
from tests.pages import signed_in, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def narrator(volunteer):
    return narrator_of(a_started_interview(volunteer))


def address(participant) -> str:
    return reverse("portal:release-hand-over", args=[participant.pk])


def test_the_page_says_what_will_happen(volunteer, narrator):
    told = text_of(signed_in(volunteer).get(address(narrator)))
    assert "you are signed out and this device shows one release and nothing else" in told
    assert not SigningSession.objects.exists()


def test_the_volunteer_is_signed_out_and_the_browser_shows_the_release(volunteer, narrator):
    browser = signed_in(volunteer)
    answer = browser.post(address(narrator), follow=True)
    assert answer.redirect_chain[-1][0] == reverse("narrator:consent")
    assert "Marit Oskarsen, please read this first" in text_of(answer)
    assert "_auth_user_id" not in browser.session
    event = story_of(narrator.interview).last()
    assert (event.action, event.actor) == (Action.SIGNING_OPENED, volunteer)


@pytest.mark.parametrize("name", ["portal:home", "portal:interview-start", "home", "desk:queue"])
def test_whoever_holds_the_device_reaches_nothing_else(volunteer, narrator, name):
    browser = signed_in(volunteer)
    browser.post(address(narrator))
    answer = browser.get(reverse(name))
    assert answer["Location"].startswith(reverse("account_login"))


def test_the_interview_is_out_of_reach_until_somebody_signs_in_again(volunteer, narrator):
    browser = signed_in(volunteer)
    detail = reverse("portal:interview-detail", args=[narrator.interview_id])
    browser.post(address(narrator))
    assert browser.get(detail).status_code == 302
    browser.force_login(volunteer)
    assert browser.get(detail).status_code == 200


def test_a_volunteer_who_signs_in_again_cannot_sign_in_the_narrators_place(volunteer, narrator):
    browser = signed_in(volunteer)
    browser.post(address(narrator))
    browser.post(reverse("narrator:consent"), {"agree": "on"})
    browser.force_login(volunteer)
    for name in ("consent", "sign", "done"):
        assert browser.get(reverse(f"narrator:{name}")).status_code == 410
    assert browser.get(reverse("narrator:copy")).status_code == 404


def test_the_browser_keeps_no_page_of_whoever_had_the_device_before(volunteer, narrator):
    """RFC 9111, section 5.2.2.5 (no-store); W3C Clear Site Data, "cache"."""
    browser = signed_in(volunteer)
    page = reverse("portal:interview-detail", args=[narrator.interview_id])
    assert "no-store" in browser.get(page)["Cache-Control"]
    assert browser.post(address(narrator))["Clear-Site-Data"] == '"cache", "storage"'
    assert "no-store" in browser.get(reverse("narrator:consent"))["Cache-Control"]
    assert browser.post(reverse("narrator:give-back"))["Clear-Site-Data"] == '"cache", "storage"'


def test_who_has_signed_is_not_handed_the_device_again(volunteer, narrator):
    a_signed_release(narrator)
    browser = signed_in(volunteer)
    answer = browser.post(address(narrator))
    assert "Marit Oskarsen has signed already." in text_of(answer)
    assert browser.session["_auth_user_id"]


def test_after_the_end_nothing_is_handed_over(volunteer):
    narrator = narrator_of(an_interview(State.WITHDRAWN, owner=volunteer))
    answer = signed_in(volunteer).post(address(narrator))
    assert "This interview is withdrawn, so nothing can be signed for it now." in text_of(answer)
