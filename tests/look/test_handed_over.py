"""The pages of a narrator who was handed the device, and the pages that say no: whole like all others."""

from collections.abc import Callable

import pytest
from playwright.sync_api import Page

from tests.look.looking import troubles

pytestmark = pytest.mark.browser


def test_every_page_of_the_signing_is_whole(visitor: Callable[..., Page], axe: str) -> None:
    page = visitor("tobias.wrenfield@example.org")
    page.get_by_role("link", name="Edmund Quillfeather").click()
    page.get_by_role("link", name="Hand over for signing").first.click()
    page.get_by_role("button", name="Sign me out and show the release").click()
    found = troubles(page, axe, "narrator-1-consent")
    page.get_by_label("I agree to sign").check()
    page.get_by_role("button", name="Show me the release").click()
    found += troubles(page, axe, "narrator-2-release")
    page.get_by_label("Open: anyone may hear it").check()
    page.get_by_label("No public licence").check()
    page.get_by_label("Type my name").check()
    page.get_by_label("Your full name, as your signature").fill("Edmund Quillfeather")
    page.locator("[name=i_sign]").check()
    page.get_by_role("button", name="Sign", exact=True).click()
    page.wait_for_url("**/sign/done/")
    found += troubles(page, axe, "narrator-3-done")
    assert not found, "\n".join(found)


@pytest.mark.parametrize(
    ("address", "status"), [("/nowhere/", 404), ("/desk/", 403), ("/interviews/9223372036854775808/", 404)]
)
def test_pages_that_say_no_are_whole_too(
    visitor: Callable[..., Page], axe: str, console_errors: list[str], address: str, status: int
) -> None:
    page = visitor("tobias.wrenfield@example.org")
    answer = page.goto(address)
    assert answer
    assert answer.status == status
    assert not troubles(page, axe, f"refused-{status}")
    console_errors.clear()  # the browser tells of every answer from 400 on
