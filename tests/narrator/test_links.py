"""A private link: for one person and one paper, looked at without effect, dead once it has been used."""

import re

import pytest
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from intake import workflow
from intake.errors import Refused
from intake.interviews import participants
from intake.jobs.models import Kind
from intake.mail.models import Message
from intake.outputs.private_links import send_link_to_sign
from intake.releases.links import end_link, link_of, live_link, make_link
from intake.releases.models import PrivateLink, Release, SigningSession
from tests.factories import a_signed_release, a_started_interview, at_time, interviewer_of, later, narrator_of, run_jobs
from tests.pages import signed_in, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def narrator(volunteer):
    narrator = narrator_of(a_started_interview(volunteer))
    participants.correct_participant(narrator.pk, name=narrator.person.name, email="marit@example.org", actor=volunteer)
    return narrator_of(narrator.interview)


@pytest.fixture
def url(narrator, volunteer) -> str:
    """As it stands in the message that the narrator gets."""
    send_link_to_sign(narrator.pk, moment="release", actor=volunteer)
    (address,) = re.findall(r"/link/\S+", Message.objects.get(key__startswith="private-link-").text)
    return address


def sign(browser: Client):
    browser.post(reverse("narrator:consent"), {"agree": "on"})
    page = browser.get(reverse("narrator:sign"))
    return browser.post(
        reverse("narrator:sign"),
        {
            "signing": browser.session["signing"],
            "wording": page.context["wording"].pk,
            "text_sha256": page.context["text_sha256"],
            "access": "open",
            "licence": "none",
            "method": "typed",
            "typed_name": "Marit Oskarsen",
            "i_sign": "on",
        },
    )


def test_a_link_is_sent_by_e_mail_and_the_volunteer_never_sees_it(narrator, volunteer):
    browser = signed_in(volunteer)
    answer = browser.post(reverse("portal:link-send", args=[narrator.pk]), {"moment": "release"}, follow=True)
    assert "A link is on its way to Marit Oskarsen." in text_of(answer)
    message = Message.objects.get(key__startswith="private-link-")
    assert (message.to, message.holds_secret) == ("marit@example.org", True)
    assert message.text.split("/link/")[1].split("/")[0] not in answer.content.decode()
    run_jobs(Kind.SEND_MESSAGE)
    message.refresh_from_db()
    assert message.text == ""


def test_looking_at_it_does_nothing(url):
    for _ in range(3):
        answer = Client().get(url)
        assert "A release for Marit Oskarsen" in text_of(answer)
    assert not SigningSession.objects.exists()
    assert link_of(PrivateLink.objects.get().participant, "sign", "release")


def test_it_opens_one_release_and_dies_once_it_is_signed(url, volunteer):
    browser = Client()
    assert browser.post(url)["Location"] == reverse("narrator:consent")
    assert sign(browser)["Location"] == reverse("narrator:done")
    release = Release.objects.get()
    assert release.session.link == PrivateLink.objects.get()
    assert release.session.opened_by == volunteer
    for method in (Client().get, Client().post):
        assert method(url).status_code == 410
    assert "does not work any more" in text_of(Client().get(url))


def test_it_shows_nothing_else(url, narrator):
    browser = Client()
    browser.post(url)
    for address in (
        reverse("portal:interview-detail", args=[narrator.interview_id]),
        reverse("desk:queue"),
        reverse("portal:home"),
    ):
        assert browser.get(address)["Location"].startswith("/account/")


def test_until_it_is_signed_it_can_be_opened_again_and_the_first_device_is_out(url):
    first, second = Client(), Client()
    first.post(url)
    second.post(url)
    assert first.get(reverse("narrator:consent")).status_code == 410
    assert second.get(reverse("narrator:consent")).status_code == 200


def test_whoever_is_signed_in_on_that_device_is_signed_out(url, other_volunteer):
    browser = signed_in(other_volunteer)
    assert "Opening it signs you out" in text_of(browser.get(url))
    browser.post(url)
    assert "_auth_user_id" not in browser.session


def test_it_expires(url):
    with at_time(later(days=31)):
        assert Client().post(url).status_code == 410


def test_a_newer_link_ends_the_one_before(url, narrator, volunteer):
    send_link_to_sign(narrator.pk, moment="release", actor=volunteer)
    assert Client().get(url).status_code == 410


def test_guessing_is_ended(url):
    browser = Client()
    for _ in range(10):
        assert browser.get("/link/guessed/").status_code == 410
    assert "too many tries" in text_of(browser.get(url))
    assert Client(REMOTE_ADDR="192.0.2.9").get(url).status_code == 200


def test_only_its_digest_is_kept(url):
    link = PrivateLink.objects.get()
    token = url.strip("/").rpartition("/")[2]
    assert token not in str(PrivateLink.objects.values().get())
    assert live_link(token) == link


def test_nobody_without_an_address_is_sent_one(narrator, volunteer):
    without = interviewer_of(narrator.interview)
    without.person.user = None
    without.person.email = ""
    without.person.save()
    with pytest.raises(Refused, match="has no e-mail address here"):
        send_link_to_sign(without.pk, moment="release", actor=volunteer)


def test_nothing_is_sent_for_what_is_signed_already(narrator, volunteer):
    a_signed_release(narrator)
    with pytest.raises(Refused, match="has signed already"):
        send_link_to_sign(narrator.pk, moment="release", actor=volunteer)


def test_a_link_is_ended_by_hand(url, volunteer):
    end_link(PrivateLink.objects.select_related("participant__interview").get(), actor=volunteer)
    assert Client().get(url).status_code == 410


def test_an_interview_that_was_withdrawn_is_told_at_the_link(url, narrator, volunteer):
    workflow.withdraw(narrator.interview_id, reason="x", actor=volunteer)
    answer = Client().post(url)
    assert "nothing can be signed for it now" in text_of(answer)


@pytest.mark.parametrize(
    ("wrong", "name"),
    [({"moment": ""}, "link_to_sign_says_what"), ({"purpose": "hear"}, "link_to_sign_says_what")],
)
def test_the_database_lets_no_link_be_for_nothing(url, wrong, name):
    with pytest.raises(IntegrityError, match=name), transaction.atomic():
        PrivateLink.objects.update(**wrong)


def test_the_database_lets_one_link_work(narrator, volunteer):
    link, _ = make_link(narrator.pk, purpose="sign", moment="release", actor=volunteer)
    again, _ = make_link(narrator.pk, purpose="sign", moment="release", actor=volunteer)
    with pytest.raises(IntegrityError), transaction.atomic():
        PrivateLink.objects.filter(pk=link.pk).update(ended_at=None)
    assert again.ended_at is None
