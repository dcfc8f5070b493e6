"""A form sent twice makes one thing, and the second click leads where the first did."""

import re
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from intake.interviews.models import Collection, Interview, Participant, State
from intake.kits import services as kits
from intake.kits.models import Kit, Loan
from intake.mail.models import Message
from intake.once.models import SentForm
from intake.once.services import delete_old
from intake.releases.models import Wording
from intake.releases.wordings import wording_for
from tests.factories import a_collection, a_started_interview, an_interview, later
from tests.pages import signed_in, text_of
from tests.portal.pages import TYPED, page

pytestmark = pytest.mark.django_db


def key_on(browser: Client, address: str) -> str:
    """The key of the form that a browser is looking at."""
    return re.search(r'name="form_key" value="([0-9a-f]{32})"', browser.get(address).content.decode()).group(1)


def twice(browser: Client, address: str, typed: dict) -> tuple:
    typed = {**typed, "form_key": key_on(browser, address)}
    return browser.post(address, typed), browser.post(address, typed)


def test_an_interview_is_begun_once_and_both_clicks_lead_to_it(volunteer):
    first, second = twice(signed_in(volunteer), page("interview-start"), {**TYPED, "collection": a_collection().pk})
    assert Interview.objects.count() == 1
    assert first["Location"] == second["Location"] == page("interview-detail", Interview.objects.get().pk)


def test_something_typed_differently_on_a_page_come_back_to_is_another(volunteer):
    browser, typed = signed_in(volunteer), {**TYPED, "collection": a_collection().pk}
    typed["form_key"] = key_on(browser, page("interview-start"))
    browser.post(page("interview-start"), typed)
    browser.post(page("interview-start"), {**typed, "narrator_name": "Edda Lowell"})
    assert Interview.objects.count() == 2


def test_two_people_never_share_a_key(volunteer, other_volunteer):
    browser, typed = signed_in(volunteer), {**TYPED, "collection": a_collection().pk}
    typed["form_key"] = key_on(browser, page("interview-start"))
    browser.post(page("interview-start"), typed)
    signed_in(other_volunteer).post(page("interview-start"), typed)
    assert {interview.owner for interview in Interview.objects.all()} == {volunteer, other_volunteer}


def test_a_person_is_added_once(volunteer):
    interview = a_started_interview(volunteer)
    typed = {"role": "narrator", "name": "Aurel Lindqvist", "email": ""}
    first, second = twice(signed_in(volunteer), page("person-add", interview.pk), typed)
    assert Participant.objects.filter(person__name="Aurel Lindqvist").count() == 1
    assert first["Location"] == second["Location"]


def test_what_was_refused_can_be_sent_again(volunteer):
    """A refusal is forgotten with what it refused: it is no first time."""
    browser = signed_in(volunteer)
    typed = {**TYPED, "collection": a_collection().pk, "recorded_on": "2999-01-01"}
    first, second = twice(browser, page("interview-start"), typed)
    assert first.status_code == second.status_code == 200
    assert "lies in the future" in text_of(second)
    assert not SentForm.objects.exists()


def test_an_invitation_goes_once(archivist):
    typed = {"name": "Jonna Vik", "email": "jonna@example.org", "role": "volunteer"}
    first, second = twice(signed_in(archivist), reverse("desk:people"), typed)
    assert Message.objects.count() == 1
    assert first["Location"] == second["Location"] == reverse("desk:people")


def test_a_kit_and_a_collection_are_added_once(archivist):
    browser = signed_in(archivist)
    _, again = twice(browser, reverse("desk:kits"), {"number": "9", "contents": "recorder"})
    assert (Kit.objects.count(), again["Location"]) == (1, reverse("desk:kits"))
    _, again = twice(browser, reverse("desk:collections"), {"name": "Ferries"})
    assert (Collection.objects.count(), again["Location"]) == (1, reverse("desk:collections"))


def test_a_kit_is_lent_once_and_the_second_click_says_where_the_code_is(archivist):
    kit = kits.add_kit(number="9", contents="recorder", actor=archivist)
    due_on = timezone.localdate() + timedelta(days=14)
    typed = {"name": "Lucinda Farrow", "email": "lucinda@example.org", "due_on": due_on.isoformat()}
    browser = signed_in(archivist)
    first, second = twice(browser, reverse("desk:kit-lend", args=[kit.pk]), typed)
    assert first.status_code == 200
    assert Loan.objects.count() == 1
    assert second["Location"] == reverse("desk:kits")
    assert "This kit has been lent already, and its code was shown once." in text_of(browser.get(reverse("desk:kits")))


def test_a_kit_is_taken_back_once(archivist):
    kit = kits.add_kit(number="9", contents="recorder", actor=archivist)
    due_on = timezone.localdate() + timedelta(days=14)
    loan, _ = kits.lend(kit.pk, name="Lucinda", email="lucinda@example.org", due_on=due_on, actor=archivist)
    address = reverse("desk:loan-take-back", args=[loan.pk])
    _, second = twice(signed_in(archivist), address, {"condition": "Whole.", "card": "cleared"})
    assert "This kit has come back already." in text_of(second)


@pytest.mark.parametrize(
    ("state", "route", "sentence"),
    [
        (State.DRAFT, "portal:interview-submit", "This interview has been handed in already."),
        (State.SUBMITTED, "desk:interview-take-up", "This interview is in review already."),
        (State.IN_REVIEW, "desk:interview-accept", "This interview has been accepted already."),
    ],
)
def test_a_move_made_twice_is_told_calmly(volunteer, archivist, state, route, sentence):
    interview = an_interview(state, owner=volunteer, reviewer=archivist, ready=True)
    browser = signed_in(archivist if route.startswith("desk") else volunteer)
    address = reverse(route, args=[interview.pk])
    browser.post(address, follow=True)
    again = browser.post(address, follow=True)
    assert sentence in text_of(again)
    assert "message-error" not in again.content.decode()


@pytest.mark.parametrize(
    ("route", "field", "sentence"),
    [
        ("desk:interview-send-back", "message", "This interview has been sent back to the volunteer already."),
        ("desk:interview-decline", "reason", "This interview has been declined already."),
    ],
)
def test_a_decision_made_twice_is_told_calmly_and_the_letter_goes_once(volunteer, archivist, route, field, sentence):
    interview = an_interview(State.IN_REVIEW, owner=volunteer, reviewer=archivist)
    browser = signed_in(archivist)
    typed = {field: "Please name the second voice."}
    browser.post(reverse(route, args=[interview.pk]), typed)
    assert sentence in text_of(browser.post(reverse(route, args=[interview.pk]), typed))
    assert Message.objects.count() == 1


def test_the_browser_is_told_which_form_went_through_and_only_then(volunteer):
    browser, typed = signed_in(volunteer), {**TYPED, "collection": a_collection().pk}
    typed["form_key"] = key_on(browser, page("interview-start"))
    browser.post(page("interview-start"), {**typed, "place": ""})
    assert "sent_form" not in browser.cookies
    stranger = Client()
    assert stranger.post(page("interview-start"), typed).status_code == 302  # to the sign-in
    assert "sent_form" not in stranger.cookies
    browser.post(page("interview-start"), typed)
    assert browser.cookies["sent_form"].value == typed["form_key"]


def test_a_key_that_is_none_makes_no_cookie(volunteer):
    browser, typed = signed_in(volunteer), {**TYPED, "collection": a_collection().pk}
    assert browser.post(page("interview-start"), {**typed, "form_key": "x; Path=/\r\nY: z"}).status_code == 302
    assert "sent_form" not in browser.cookies


def test_sent_forms_are_forgotten_after_a_while(volunteer):
    twice(signed_in(volunteer), page("interview-start"), {**TYPED, "collection": a_collection().pk})
    delete_old()
    assert SentForm.objects.count() == 1
    SentForm.objects.update(sent_at=later(days=-8))
    delete_old()
    assert not SentForm.objects.exists()


def test_a_wording_is_put_into_force_once(coordinator):
    start = wording_for("release", "narrator", "en")
    kind = {"moment": "release", "role": "narrator", "language": "en", "basis": "licence"}
    typed = {**kind, "title": "Our release", "text": "I agree."}
    first, second = twice(signed_in(coordinator), reverse("desk:wording-new-version", args=[start.pk]), typed)
    assert first["Location"] == second["Location"] == reverse("desk:wordings")
    assert Wording.objects.filter(title="Our release").count() == 1
