"""What people do on the pages, in their own words, so that the stories read as stories."""

import re
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

from playwright.sync_api import Page, expect

from tests.site import LiveSite

COLLECTION = "Both Banks: the crossing years"
PASSWORD = "three quiet rivers"
# Measuring compiles its loops on a machine's first run.
PATIENCE_MS = 60_000


class Story:
    """One site, several people, each in a browser of their own."""

    def __init__(self, site: LiveSite, new_page: Callable[..., Page]) -> None:
        self.site = site
        self.new_page = new_page

    def signed_in(self, email: str) -> Page:
        page = self.new_page()
        sign_in(page, email)
        return page

    def volunteer(self, name: str, email: str) -> Page:
        """A volunteer who came by the code of a kit loan."""
        code = self.lend_kit(name, email)
        page = self.new_page()
        page.goto("/account/login/")
        page.get_by_role("link", name="loan's code").click()
        page.get_by_label("Code on your loan slip").fill(code.lower())
        page.get_by_role("button", name="Go on").click()
        expect(page.get_by_role("heading", name="Welcome")).to_be_visible()
        page.get_by_label("Choose a password").fill(PASSWORD)
        page.get_by_role("button", name="Begin").click()
        expect(page.get_by_role("heading", name="Your interviews")).to_be_visible()
        return page

    def lend_kit(self, name: str, email: str) -> str:
        """The coordinator lends the kit, after taking it back if it is out, and reads the code off the screen."""
        page = self.signed_in("ines@example.org")
        page.goto("/desk/kits/")
        if page.get_by_role("link", name="Take back").count():
            page.get_by_role("link", name="Take back").click()
            page.get_by_label("Condition").fill("All there.")
            page.get_by_role("button", name="Take back").click()
        page.get_by_role("link", name="Lend").click()
        page.get_by_label("Borrower", exact=True).fill(name)
        page.get_by_label("Borrower's e-mail address").fill(email)
        page.get_by_label("Due back on").fill(in_a_month())
        page.get_by_role("button", name="Lend the kit").click()
        return page.locator(".code").inner_text()

    def wait_for_mail(self, to: str, words: str) -> str:
        """The newest e-mail to an address that holds these words."""
        for _ in range(240):
            for mail in reversed(self.site.mails()):
                if f"To: {to}" in mail and words in re.sub(r"=\n", "", mail):
                    return mail
            time.sleep(0.25)
        raise AssertionError(f"no e-mail to {to} with {words!r}")


def in_a_month() -> str:
    return (datetime.now(UTC) + timedelta(days=30)).date().isoformat()


def sign_in(page: Page, email: str) -> None:
    page.goto("/account/login/")
    page.locator("[name=login]").fill(email)
    page.locator("[name=password]").fill(PASSWORD)
    page.get_by_role("button", name="Sign in", exact=True).click()
    expect(page.get_by_role("button", name="Sign out")).to_be_visible()


def begin_interview(page: Page, narrator: str, email: str) -> str:
    """Returns the address of the interview's page."""
    page.goto("/interviews/new/")
    page.get_by_label("Narrator", exact=True).fill(narrator)
    page.get_by_label("Narrator's e-mail address").fill(email)
    page.get_by_label("Day of the interview").fill("2026-11-12")
    page.get_by_label("Where you recorded").fill("At home, Alder Ferry")
    page.get_by_label("What it is about").fill("The last ferry and the winter of the ice.")
    page.get_by_label("Names and spellings").fill("Osgood\nThe Lindworm (a ferry)")
    page.get_by_role("button", name="Begin", exact=True).click()
    expect(page.get_by_role("heading", level=1)).to_contain_text(narrator)
    return page.url


def choose(page: Page, *recordings: Path) -> None:
    """Choose files in the hand-in panel, which shows itself once its script is ready."""
    expect(page.get_by_label("Choose the recordings")).to_be_visible()
    page.locator("#upload-files").set_input_files([str(path) for path in recordings])


def hand_in(page: Page, *recordings: Path) -> None:
    """Choose files and wait until each is stored twice and measured."""
    choose(page, *recordings)
    for path in recordings:
        row = page.locator("#parts li", has_text=path.name)
        expect(row.get_by_text("Stored twice, both copies match.")).to_be_visible(timeout=PATIENCE_MS)
        expect(row.get_by_role("link", name="Listen, and see what was measured")).to_be_visible(timeout=PATIENCE_MS)


def hand_over(page: Page, signer: str) -> None:
    """Give the device to a signer: the volunteer is signed out."""
    page.locator("#people tr", has_text=signer).get_by_role("link", name=re.compile("Hand over|Sign your own")).click()
    page.get_by_role("button", name="Sign me out and show the release").click()
    expect(page.get_by_role("heading", name="please read this first")).to_be_visible()


def agree_to_sign_on_screen(page: Page) -> None:
    page.get_by_label("I agree to sign on this screen").check()
    page.get_by_role("button", name="Show me the release").click()


def draw_signature(page: Page) -> None:
    page.get_by_label("Draw my signature").check()
    canvas = page.locator("canvas")
    canvas.scroll_into_view_if_needed()
    box = canvas.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + 30, box["y"] + 60)
    page.mouse.down()
    for step in range(1, 20):
        page.mouse.move(box["x"] + 30 + 10 * step, box["y"] + (40 if step % 2 else 90))
    page.mouse.up()


def sign(page: Page) -> None:
    """Confirm, take the copy, give the device back."""
    page.get_by_label("I have read the text above, and I sign it.").check()
    page.get_by_role("button", name="Sign", exact=True).click()
    expect(page.get_by_role("heading", name="Thank you")).to_be_visible()
    with page.expect_download() as download:
        page.get_by_role("link", name="Take your copy").click(timeout=PATIENCE_MS)
    assert download.value.path().read_bytes().startswith(b"%PDF-")
    page.get_by_role("button", name="give the device back").click()
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
