"""The demo as it runs on somebody's computer, and a browser for each of its visitors."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

from intake.local import demo_people
from tests.conftest import TELL_VIOLATIONS
from tests.site import LiveSite, running_site


@pytest.fixture(scope="session")
def demo_site() -> Iterator[LiveSite]:
    with running_site("load_demo", DJANGO_SETTINGS_MODULE="intake.settings.demo") as site:
        yield site


@pytest.fixture
def visitor(browser: Browser, demo_site: LiveSite, console_errors: list[str]) -> Iterator[Callable[..., Page]]:
    """Opens the demo as somebody, signed in at the address given, or as nobody."""
    contexts = []

    def visit(email: str | None = None) -> Page:
        context = browser.new_context(base_url=demo_site.url)
        context.add_init_script(TELL_VIOLATIONS)
        contexts.append(context)
        page = context.new_page()
        page.on(
            "console", lambda message: message.type == "error" and console_errors.append(f"{page.url}: {message.text}")
        )
        page.on("pageerror", lambda error: console_errors.append(f"{page.url}: {error}"))
        if email:
            sign_in(page, email)
        return page

    yield visit
    for context in contexts:
        context.close()


def sign_in(page: Page, email: str) -> None:
    page.goto("/account/login/")
    page.locator("#id_login").fill(email)
    page.locator("#id_password").fill(demo_people.PASSWORD)
    page.get_by_role("button", name="Sign in", exact=True).click()
    page.wait_for_load_state()


@pytest.fixture(scope="session")
def axe() -> str:
    """The accessibility checks of axe-core, as a script."""
    return (Path(__file__).resolve().parents[2] / "node_modules" / "axe-core" / "axe.min.js").read_text()
