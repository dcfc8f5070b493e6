"""What every test may ask for: the running site, a real browser, a database whose commits are real."""

import os
from collections.abc import Callable, Iterator
from uuid import uuid4

import pytest
from django.apps import apps
from django.db import connection
from django.db.models.signals import post_migrate
from django.dispatch import receiver
from playwright.sync_api import Browser, ConsoleMessage, Page, sync_playwright

from intake.audit import triggers
from intake.releases.models import Wording
from tests.browsers import browser_path
from tests.needs import needs
from tests.object_server import object_server, object_stores  # noqa: F401  fixtures for every test
from tests.people import archivist, coordinator, other_volunteer, stranger, volunteer  # noqa: F401  fixtures for every test
from tests.releases.starter import put_starter_wordings_into_force
from tests.site import LiveSite, running_site
from tests.stores import a_file, file, folders  # noqa: F401  fixtures for every test

QUIET_BROWSER = (
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-default-apps",
    "--disable-sync",
    "--no-first-run",
    "--use-fake-device-for-media-stream",
)
# Violations of the content security policy are written to the console, where the `page` fixture looks.
TELL_VIOLATIONS = """
document.addEventListener("securitypolicyviolation", (event) =>
  console.error(`content security policy: ${event.violatedDirective} forbids ${event.blockedURI}`));
"""


# Minutes each: begun last, one of them alone would be waited for at the end.
LONGEST_FIRST = ("tests/look/", "tests/journeys/", "tests/local/", "tests/clients/")


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--with-a-database", action="store_true", help="leave out what meets no database of the site")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    items.sort(key=lambda item: not item.nodeid.startswith(LONGEST_FIRST))
    if config.getoption("--with-a-database"):
        left_out = [item for item in items if not meets_a_database(item)]
        config.hook.pytest_deselected(items=left_out)
        items[:] = [item for item in items if item not in set(left_out)]


def meets_a_database(item: pytest.Item) -> bool:
    """Whether it asks for one, or for processes that have one."""
    marks = {"django_db", "browser", "processes"}
    fixtures = {"db", "transactional_db", "django_db_setup", "live_site"}
    return any(item.get_closest_marker(mark) for mark in marks) or not fixtures.isdisjoint(
        getattr(item, "fixturenames", ())
    )


@pytest.fixture(autouse=True)
def no_tries_counted(settings) -> None:
    """Some doors count tries by address, and every test comes from one.

    Each test counts under a name of its own: emptying a shared cache would empty it for the tests beside it too.
    """
    settings.CACHES = {"default": {**settings.CACHES["default"], "KEY_PREFIX": f"test-{uuid4()}"}}


@receiver(post_migrate)
def wordings_come_back(**told: object) -> None:
    """Tests that really commit empty every table behind them; what migrations put there is there for the next test."""
    if not Wording.objects.exists():
        put_starter_wordings_into_force(apps)


@pytest.fixture(scope="session")
def live_site() -> Iterator[LiveSite]:
    """The whole site as real processes, one for the whole run. Each test makes people and interviews of its own."""
    with running_site() as site:
        yield site


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """A Chromium or Chrome of this machine, without a window."""
    path = browser_path()
    needs("a Chromium or Chrome (its path may be given as CHROME_PATH)", path)
    # Playwright runs an event loop in this thread, which Django takes for asynchronous code; the tests are not.
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    with sync_playwright() as playwright:
        as_root = ["--no-sandbox"] if os.geteuid() == 0 else []
        started = playwright.chromium.launch(
            executable_path=path,
            args=[*QUIET_BROWSER, *as_root],
            # People's browsers keep whole pages for their back button; so must this one.
            ignore_default_args=["--disable-back-forward-cache"],
        )
        yield started
        started.close()


@pytest.fixture
def console_errors() -> Iterator[list[str]]:
    """What the pages of this test complained of. A test that expects a complaint looks for it and clears the list."""
    told: list[str] = []
    yield told
    assert not told, "the browser complained:\n" + "\n".join(told)


@pytest.fixture
def new_page(browser: Browser, live_site: LiveSite, console_errors: list[str]) -> Iterator[Callable[[], Page]]:
    """Opens a page in a browser context of its own (another person or device). Addresses start at the live site."""
    contexts = []

    def open_page(**options) -> Page:
        context = browser.new_context(base_url=live_site.url, **options)
        context.add_init_script(TELL_VIOLATIONS)
        contexts.append(context)
        page = context.new_page()
        page.on("console", lambda message: _note(console_errors, message))
        page.on("pageerror", lambda error: console_errors.append(f"{page.url}: {error}"))
        return page

    yield open_page
    for context in contexts:
        context.close()


@pytest.fixture
def page(new_page: Callable[[], Page]) -> Page:
    """One page on the live site. A console error, a failing script or a broken content policy fails the test."""
    return new_page()


@pytest.fixture
def committed_db(transactional_db: None) -> Iterator[None]:
    """A database where transactions really commit, with the audit tables' refusal to be changed in force."""
    triggers.install(connection)
    yield
    # Emptying SQLite's tables deletes row by row, which the refusal would stop.
    triggers.remove(connection)


def _note(told: list[str], message: ConsoleMessage) -> None:
    if message.type == "error":
        told.append(f"{message.location.get('url', '')}: {message.text}")
