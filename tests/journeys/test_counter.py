"""Somebody brings a folder of recordings to the counter: staff hand it in for them, and they sign there and then."""

import re
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.journeys.story import PATIENCE_MS, Story, agree_to_sign_on_screen, hand_over, sign, sign_in
from tests.signals import noise, tone, write

pytestmark = [pytest.mark.browser, pytest.mark.processes]
GIVER = "Jonna Vik"
STAFF = "rowan@example.org"


@pytest.fixture
def brought(tmp_path: Path) -> Path:
    """A folder as a recorder's card holds it, with what the recorder and a computer left beside the recordings."""
    card = tmp_path / "card"
    (card / "FOLDER01").mkdir(parents=True)
    for place, pitch in (("10", 330), ("9", 220)):
        write(card / "FOLDER01" / f"REC_{place}.WAV", tone(3, -18, hz=pitch) + noise(3, -60, seed=pitch))
    (card / "FOLDER01" / "._REC_9.WAV").write_bytes(b"left by a computer")
    (card / "SETTINGS.TXT").write_text("left by the recorder")
    return card


def test_a_walk_in_with_a_folder(story: Story, brought: Path) -> None:
    page = story.signed_in(STAFF)
    _name_the_giver(page)
    interview = _describe(page)
    expect(page.get_by_text(f"given by {GIVER}, looked after by Rowan Pike")).to_be_visible()
    _choose_the_folder(page, brought)
    _sign_at_the_counter(page, interview)
    page.get_by_role("region", name="Next step").get_by_role("link", name="Add a person").click()
    page.get_by_label("Role").select_option("interviewer")
    page.get_by_label("Name", exact=True).fill("Ilse Brook")
    page.get_by_role("button", name="Add", exact=True).click()
    page.get_by_role("button", name="Hand in the interview").click()
    expect(page.locator(".page-head .badge")).to_have_text("Submitted")
    _goes_back_to_the_giver(story, page, interview)


def _name_the_giver(page: Page) -> None:
    page.get_by_role("link", name="Counter").click()
    page.get_by_label("Name or e-mail address").fill("jonna")
    page.get_by_role("button", name="Look whether we know them").click()
    page.get_by_role("link", name="Somebody new").click()
    page.get_by_label("Given by").fill(GIVER)
    page.get_by_label("Giver's e-mail address").fill("jonna@example.org")
    page.get_by_label("They are the narrator").check()


def _describe(page: Page) -> str:
    page.get_by_label("Day of the interview").fill("1987-09-03")
    page.get_by_label("Where you recorded").fill("The boathouse, Alder Ferry")
    page.get_by_label("What it is about").fill("The regatta.")
    page.get_by_role("button", name="Begin, and go to the files").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text(GIVER)
    return page.url


def _choose_the_folder(page: Page, folder: Path) -> None:
    """Its recordings are sent in the order in which people count; what is no recording is left out and told."""
    expect(page.get_by_label("Or choose a whole folder")).to_be_visible()
    page.locator("#upload-folder").set_input_files(folder)
    expect(page.get_by_text("From the folder: 2 recordings taken, 2 other files left out.")).to_be_visible()
    stored = page.locator("#parts").get_by_text("Stored twice, both copies match.")
    expect(stored).to_have_count(2, timeout=PATIENCE_MS)
    parts = page.locator("#parts > ol > li")
    expect(parts.nth(0)).to_contain_text("REC_9.WAV")
    expect(parts.nth(1)).to_contain_text("REC_10.WAV")


def _sign_at_the_counter(page: Page, interview: str) -> None:
    """The device is handed over: staff are signed out, and going back needs their sign-in."""
    hand_over(page, GIVER)
    agree_to_sign_on_screen(page)
    page.get_by_label("Open: anyone may hear it").check()
    page.get_by_label("No public licence").check()
    page.get_by_label("Type my name").check()
    page.get_by_label("Your full name, as your signature").fill(GIVER)
    sign(page)
    page.goto(interview)
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
    sign_in(page, STAFF)
    page.goto(interview)
    expect(page.locator("#people tr", has_text=GIVER)).to_contain_text("Signed")


def _goes_back_to_the_giver(story: Story, page: Page, interview: str) -> None:
    """Sent back, the giver without an account gets the message by mail; staff find it in their list."""
    number = re.search(r"/interviews/(\d+)/", interview).group(1)
    page.goto(f"/desk/interviews/{number}/")
    page.get_by_role("button", name="Take up the review").click()
    page.get_by_role("link", name="Send back").click()
    page.get_by_label("Message to the volunteer").fill("Who asks the questions on the second file?")
    page.get_by_role("button", name="Send back with this message").click()
    mail = story.wait_for_mail("jonna@example.org", "Who asks the questions on the second file?")
    assert "/interviews/" not in mail
    page.get_by_role("link", name="Counter").click()
    row = page.locator("tr", has_text=f"Interview with {GIVER}")
    expect(row).to_contain_text("Returned")
    expect(row).to_contain_text("Rowan Pike")
