"""The pages behind a private link, and those of an agreement: whole like all others, on a telephone too."""

from collections.abc import Callable

import pytest
from playwright.sync_api import Page

from tests.look.looking import troubles
from tests.site import LiveSite

pytestmark = pytest.mark.browser

MAKE = """
from datetime import timedelta
from django.utils import timezone
from intake.accounts.models import User
from intake.interviews.models import Participant
from intake.releases import turns
from intake.releases.links import make_link
staff = User.objects.filter(role="coordinator").first()
narrators = Participant.objects.filter(role="narrator")
def link(purpose, **which):
    narrator = narrators.filter(**which).first()
    if purpose == "hear":
        turns.begin(narrator.pk, until=timezone.localdate() + timedelta(days=9), actor=staff)
    moment = "agreement" if purpose == "sign" else ""
    print("/link/" + make_link(narrator.pk, purpose=purpose, moment=moment, actor=staff)[1] + "/")
link("sign", interview__state="draft")
link("hear", interview__state__in=["submitted", "in_review"])
link("copy", interview__state="accepted")
"""


def press(page: Page, name: str) -> None:
    """Press a button, and go on once the page that it leads to is there."""
    with page.expect_navigation():
        page.get_by_role("button", name=name).click()


def test_every_page_behind_a_private_link_is_whole(
    visitor: Callable[..., Page], demo_site: LiveSite, axe: str, console_errors: list[str]
) -> None:
    agreement, hearing, copies = demo_site.shell(MAKE).split()
    page = visitor()
    page.goto(agreement)
    found = troubles(page, axe, "link-1-agreement")
    press(page, "open it")
    found += troubles(page, axe, "link-2-agreement-consent")
    page.get_by_label("I agree to sign").check()
    press(page, "Show me the agreement")
    found += troubles(page, axe, "link-3-agreement-text")
    page.goto(hearing)
    press(page, "open it")
    found += troubles(page, axe, "link-4-hear")
    press(page, "It is right for me")
    found += troubles(page, axe, "link-5-answered")
    page.goto(copies)
    press(page, "open it")
    found += troubles(page, axe, "link-6-copies")
    page.goto(hearing)
    found += troubles(page, axe, "link-7-ended")
    console_errors.clear()  # the browser tells of every answer from 400 on
    assert not found, "\n".join(found)
