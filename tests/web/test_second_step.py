"""Staff without a second step are led to its set-up before any page; a lost phone locks nobody out for good."""

import re
import time
from collections.abc import Callable

import pytest
from allauth.mfa.adapter import get_adapter
from allauth.mfa.totp.internal.auth import format_hotp_value, hotp_value
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse
from playwright.sync_api import Browser, Page, expect

from intake.accounts.services import has_second_step
from intake.audit.models import Event
from intake.errors import Refused
from intake.mail.models import Message
from intake.people import second_step
from tests.access.routes import all_routes
from tests.factories import PASSWORD, TOTP_SECRET, a_started_interview, a_user, describe_the_library
from tests.pages import signed_in, text_of
from tests.portal.tus import create
from tests.site import running_site

SET_UP = "/account/2fa/totp/activate/"
DESK = ["desk:queue", "desk:people", "desk:kits", "desk:collections", "desk:jobs", "desk:set-up", "portal:home", "home"]


def code_now(secret: str = TOTP_SECRET) -> str:
    """RFC 6238: HOTP over the number of 30-second steps since 1970."""
    return format_hotp_value(hotp_value(secret, int(time.time()) // 30))


def sign_in_as_people_do(user) -> Client:
    browser = Client()
    browser.post(reverse("account_login"), {"login": user.email, "password": PASSWORD})
    return browser


@pytest.fixture
def without(db):
    return a_user("Ines Halloway", role="archivist", second_step=False)


@pytest.mark.parametrize(
    ("seconds", "code"), [(59, "287082"), (1111111109, "081804"), (1234567890, "005924"), (20000000000, "353130")]
)
def test_codes_are_those_of_the_standard(seconds: int, code: str):
    """RFC 6238, appendix B, SHA-1, the last six digits; the key is the one of TOTP_SECRET."""
    assert format_hotp_value(hotp_value(TOTP_SECRET, seconds // 30)) == code


@pytest.mark.parametrize("name", DESK)
def test_staff_without_a_second_step_are_led_to_its_set_up(without, name):
    answer = signed_in(without).get(reverse(name))
    assert (answer.status_code, answer["Location"]) == (302, SET_UP)


def test_no_route_of_the_desk_answers_before(without):
    """Every route without arguments; those with an argument go through the same middleware."""
    browser = signed_in(without)
    for name in [name for name in all_routes() if name.startswith("desk:")]:
        for args in ([], [1]):
            try:
                url = reverse(name, args=args)
            except Exception:  # noqa: BLE001  it takes another number of arguments
                continue
            for ask in (browser.get, browser.post):
                answer = ask(url)
                assert (answer.status_code, answer["Location"]) == (302, SET_UP), url


def test_pieces_of_a_page_send_the_whole_page_there(without):
    answer = signed_in(without).get(reverse("desk:queue"), headers={"HX-Request": "true"})
    assert answer["HX-Redirect"] == SET_UP


def test_files_are_not_sent_before_either(without, volunteer):
    """The upload protocol answers signed-out callers itself, so it asks for the second step itself too."""
    browser, interview = signed_in(without), a_started_interview(volunteer)
    answer = create(browser, interview)
    assert answer.status_code == 403
    assert "Staff sign in with a second step." in answer.content.decode()
    assert not interview.parts.exists()


def test_signing_out_health_and_public_pages_stay_open(without):
    browser = signed_in(without)
    assert browser.get(reverse("health")).status_code == 200
    assert browser.get(reverse("narrator:check")).status_code == 200
    assert browser.post(reverse("account_logout"))["Location"] == reverse("account_login")


def test_volunteers_need_none(volunteer):
    assert signed_in(volunteer).get(reverse("portal:home")).status_code == 200


def test_where_it_is_only_offered_the_desk_opens(without, settings):
    settings.STAFF_SECOND_STEP = "offered"
    assert signed_in(without).get(reverse("desk:queue")).status_code == 200


def test_it_says_why_and_leads_back_to_the_page_that_was_wanted(without):
    browser = sign_in_as_people_do(without)
    browser.get(reverse("desk:kits"))
    page = browser.get(SET_UP)
    assert "Before you go on: staff of the library sign in with a second step." in text_of(page)
    secret = page.context["form"].secret
    codes = browser.post(SET_UP, {"code": code_now(secret)}, follow=True)
    assert "keep them with your papers" in text_of(codes)
    assert f'href="{reverse("desk:kits")}">I have kept them. Go on' in codes.content.decode()
    assert browser.get(reverse("desk:kits")).status_code == 200


def test_the_way_back_leads_nowhere_else(without):
    browser = sign_in_as_people_do(without)
    browser.get("//elsewhere.example.org/desk/")
    session = browser.session
    session["wanted_before_second_step"] = "//elsewhere.example.org/"
    session.save()
    assert browser.get(SET_UP).context["wanted_page"] == "/"


def test_the_app_shows_the_librarys_name(coordinator):
    describe_the_library(coordinator)
    assert "issuer=Alder%20Ferry%20Public%20Library" in get_adapter().build_totp_url(coordinator, TOTP_SECRET)


def test_a_recovery_code_opens_the_account_once_when_the_phone_is_lost(without):
    browser = sign_in_as_people_do(without)
    secret = browser.get(SET_UP).context["form"].secret
    code = browser.post(SET_UP, {"code": code_now(secret)}, follow=True).context["unused_codes"][0]
    for tries, opens in ((1, True), (2, False)):
        later = sign_in_as_people_do(without)
        later.post(reverse("mfa_authenticate"), {"code": code})
        assert (later.get(reverse("desk:queue")).status_code == 200) is opens, tries


def test_the_coordinator_resets_a_lost_second_step_and_the_person_is_told(archivist, coordinator):
    page = signed_in(coordinator)
    asked = page.get(reverse("desk:second-step-reset", args=[archivist.pk]))
    assert "really Ines Halloway who asks" in text_of(asked)
    page.post(reverse("desk:second-step-reset", args=[archivist.pk]))
    assert not has_second_step(archivist)
    event = Event.objects.get(action="second-step-reset")
    assert (event.actor, event.details) == (coordinator, {"account": archivist.pk})
    message = Message.objects.get(to=archivist.email)
    assert "If you did not ask for this" in message.text
    assert signed_in(archivist).get(reverse("desk:queue"))["Location"] == SET_UP


def test_nobody_else_resets_one_and_nobody_their_own(archivist, volunteer, coordinator):
    for actor in (archivist, volunteer):
        with pytest.raises(Refused, match="Only the coordinator"):
            second_step.reset(coordinator.pk, actor=actor)
    with pytest.raises(Refused, match="Your own"):
        second_step.reset(coordinator.pk, actor=coordinator)
    with pytest.raises(Refused, match="no second step"):
        second_step.reset(volunteer.pk, actor=coordinator)
    assert has_second_step(coordinator)
    assert not Event.objects.filter(action="second-step-reset").exists()


def test_on_the_server_the_only_coordinator_is_let_in_again(coordinator, capsys):
    call_command("reset_second_step", "Ottilie@example.org")
    assert "sets up a second step anew" in capsys.readouterr().out
    assert not has_second_step(coordinator)
    assert Event.objects.get(action="second-step-reset").actor is None
    with pytest.raises(CommandError, match="no second step"):
        call_command("reset_second_step", "ottilie@example.org")
    with pytest.raises(CommandError, match="Nobody signs in"):
        call_command("reset_second_step", "nobody@example.org")


@pytest.mark.browser
def test_a_new_coordinator_enrols_and_signs_in_with_the_app(
    browser: Browser, new_page: Callable[..., Page], console_errors: list[str]
) -> None:
    """From the first sign-in to the set-up page, and once more with a code: on a site that requires it."""
    with running_site(STAFF_SECOND_STEP="required") as site:
        site.shell(
            "from intake.accounts.models import User\n"
            f"User.objects.create_user('ines@example.org', {PASSWORD!r}, name='Ines Calloway', role='coordinator')\n"
        )
        page = new_page()
        page.goto(f"{site.url}/desk/set-up/")
        page.locator("[name=login]").fill("ines@example.org")
        page.locator("[name=password]").fill(PASSWORD)
        page.get_by_role("button", name="Sign in", exact=True).click()
        expect(page.get_by_role("heading", name="Set up a second step")).to_be_visible()
        secret = re.sub(r"\s", "", page.locator(".code").inner_text())
        page.get_by_label("code").fill(code_now(secret))
        page.get_by_role("button", name="Switch it on").click()
        expect(page.get_by_text("keep them with your papers")).to_be_visible()
        assert page.locator(".codes li").count() == 10
        page.get_by_role("link", name="I have kept them. Go on").click()
        expect(page.get_by_role("heading", name="Set-up", exact=True)).to_be_visible()
        page.get_by_role("button", name="Sign out").click()
        page.locator("[name=login]").fill("ines@example.org")
        page.locator("[name=password]").fill(PASSWORD)
        page.get_by_role("button", name="Sign in", exact=True).click()
        expect(page.get_by_role("heading", name="Second step")).to_be_visible()
        page.get_by_label("code").fill(format_hotp_value(hotp_value(secret, int(time.time()) // 30 + 1)))
        page.get_by_role("button", name="Sign in").click()
        expect(page.get_by_role("heading", name="Queue")).to_be_visible()
