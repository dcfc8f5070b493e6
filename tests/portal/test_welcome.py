"""First steps: an invitation's link and a loan's code lead to an account, once."""

from datetime import timedelta

import pytest
from allauth.mfa.totp.internal.auth import TOTP, generate_totp_secret
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from intake.accounts.models import User
from intake.kits import services as kits
from intake.people import services as people
from tests.factories import PASSWORD
from tests.pages import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def address(archivist) -> str:
    """The link in an invitation to Lucinda."""
    links = []

    def url_for(token):
        links.append(reverse("portal:welcome", args=[token]))
        return links[0]

    people.invite(
        name="Lucinda Farrow", email="lucinda@example.org", role="volunteer", actor=archivist, url_for=url_for
    )
    return links[0]


@pytest.fixture
def code(archivist) -> str:
    return lend_to("lucinda@example.org", archivist)


def lend_to(email: str, actor: User) -> str:
    kit = kits.add_kit(number=email, contents="recorder", actor=actor)
    due_on = timezone.localdate() + timedelta(days=14)
    return kits.lend(kit.pk, name="Lucinda Farrow", email=email, due_on=due_on, actor=actor)[1]


def type_code(browser, typed):
    return browser.post(reverse("portal:kit-code"), {"code": typed})


def begin(browser, address, **changed):
    return browser.post(address, {"name": "Lucinda Farrow", "password": PASSWORD, **changed})


def who_is(browser) -> str | None:
    number = browser.session.get("_auth_user_id")
    return User.objects.get(pk=number).email if number else None


# The invitation


def test_the_link_asks_for_a_name_and_a_password(client, address):
    told = client.get(address)
    assert told.status_code == 200
    assert "Your account will be lucinda@example.org" in text_of(told)
    assert 'value="Lucinda Farrow"' in told.content.decode()


def test_the_link_opens_the_account_and_signs_in(client, address):
    assert begin(client, address)["Location"] == reverse("home")
    assert who_is(client) == "lucinda@example.org"


def test_whoever_has_just_chosen_a_password_sets_up_the_second_step_without_being_asked_for_it(client, coordinator):
    links = []
    people.invite(
        name="Lucinda Farrow", email="lucinda@example.org", role="archivist", actor=coordinator,
        url_for=lambda token: links.append(reverse("portal:welcome", args=[token])) or links[0],
    )  # fmt: skip
    begin(client, links[0])
    assert client.get(reverse("mfa_activate_totp")).status_code == 200


def test_the_link_says_that_it_was_used(client, address):
    begin(client, address)
    stranger = Client()
    told = stranger.get(address)
    assert told.status_code == 410
    assert "This link has been used or is too old." in text_of(told)
    assert begin(stranger, address).status_code == 410
    assert who_is(stranger) is None


def test_opening_the_link_does_not_use_it(client, address):
    for _ in range(3):
        assert client.get(address).status_code == 200
    assert begin(client, address).status_code == 302


@pytest.mark.parametrize("weak", ["kayak", "password123", "1234567890"])
def test_a_weak_password_is_refused_and_the_link_stays(client, address, weak):
    answer = begin(client, address, password=weak)
    assert "password" in answer.context["form"].errors
    assert weak not in answer.content.decode()
    assert who_is(client) is None
    assert begin(client, address).status_code == 302


def test_an_account_opened_meanwhile_is_told_at_the_form(client, address):
    User.objects.create_user("lucinda@example.org", PASSWORD, name="Lucinda", role="volunteer")
    assert "has an account already. Sign in with it." in text_of(begin(client, address))


def test_signing_in_changes_the_session(client, address):
    """OWASP ASVS 5.0, 7.2.4: a new session token at authentication."""
    client.get(reverse("portal:kit-code"))
    session = client.session
    session["kept"] = "x"
    session.save()
    client.cookies["sessionid"] = before = session.session_key
    begin(client, address)
    assert client.session.session_key != before


# The loan's code


def test_a_new_borrower_types_the_code_and_chooses_a_password(client, code):
    assert type_code(client, code)["Location"] == reverse("portal:kit-account")
    told = client.get(reverse("portal:kit-account"))
    assert "Your account will be lucinda@example.org" in text_of(told)
    assert begin(client, reverse("portal:kit-account"))["Location"] == reverse("home")
    assert who_is(client) == "lucinda@example.org"
    assert "kit_code" not in client.session


def test_typing_the_code_alone_does_not_spend_it(client, code):
    type_code(client, code)
    assert type_code(Client(), code).status_code == 302


def test_a_borrower_with_an_account_is_signed_in_at_once(client, volunteer, archivist):
    people.person_of(volunteer)
    code = lend_to(volunteer.email, archivist)
    assert type_code(client, code.lower().replace("-", " "))["Location"] == reverse("home")
    assert who_is(client) == volunteer.email
    again = type_code(Client(), code)
    assert "has been used" in text_of(again)


def test_a_code_does_not_go_past_a_second_step(client, volunteer, archivist):
    TOTP.activate(volunteer, generate_totp_secret())
    page = type_code(client, lend_to(volunteer.email, archivist))
    assert "Your account has a second step, so sign in with your password." in text_of(page)
    assert who_is(client) is None


def test_a_wrong_code_is_refused_in_a_sentence(client, code):
    answer = type_code(client, "2222-2222")
    assert answer.status_code == 200
    assert "This code is not known, has been used, or is too old." in text_of(answer)


def test_a_code_signs_no_staff_in(client, coordinator, archivist):
    people.person_of(coordinator)
    answer = type_code(client, lend_to(coordinator.email, archivist))
    assert "Staff sign in with their password." in text_of(answer)
    assert who_is(client) is None


def test_without_a_code_there_is_no_account_page(client):
    assert client.get(reverse("portal:kit-account"))["Location"] == reverse("portal:kit-code")


def test_guessing_is_ended_after_some_tries(client, code):
    for _ in range(10):
        assert "not known" in text_of(type_code(client, "2222-2222"))
    assert "too many tries" in text_of(type_code(client, code))
    assert who_is(client) is None


def test_tries_are_counted_by_address(client, code):
    for _ in range(11):
        type_code(client, "2222-2222")
    elsewhere = Client(REMOTE_ADDR="192.0.2.9")
    assert type_code(elsewhere, code).status_code == 302
