"""The fixtures that other tests stand on: the running site and the browser."""

import urllib.request

import pytest
from playwright.sync_api import Page

from tests.site import LiveSite


@pytest.mark.browser
def test_the_sign_in_page_opens_without_a_complaint(page: Page) -> None:
    page.goto("/account/login/")
    assert page.get_by_role("heading", level=1).is_visible()


@pytest.mark.browser
def test_a_broken_content_policy_is_seen(page: Page, console_errors: list[str]) -> None:
    page.goto("/account/login/")
    page.evaluate("document.body.insertAdjacentHTML('beforeend', '<img src=\"http://elsewhere.example.org/x.png\">')")
    page.wait_for_timeout(300)
    assert any("content security policy: img-src" in told for told in console_errors)
    console_errors.clear()


@pytest.mark.processes
def test_a_killed_worker_is_started_again_and_works(live_site: LiveSite) -> None:
    live_site.kill_worker()
    live_site.restart_worker()
    assert live_site.shell("print(6 * 7)").strip() == "42"
    with urllib.request.urlopen(f"{live_site.url}/health/", timeout=5) as answer:
        assert answer.status == 200
