"""A photograph is attached, and the narrator signs on paper: print, photograph the form, confirm, accept."""

import re
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image, ImageDraw
from playwright.sync_api import Locator, Page, expect
from pypdf import PdfReader

from tests.journeys.story import (
    PATIENCE_MS,
    Story,
    agree_to_sign_on_screen,
    begin_interview,
    hand_in,
    hand_over,
    sign,
    sign_in,
)

pytestmark = [pytest.mark.browser, pytest.mark.processes]
NARRATOR, NARRATOR_EMAIL = "Edith Lorne", "edith@example.org"
VOLUNTEER, VOLUNTEER_EMAIL = "Casper Wynn", "casper@example.org"


@pytest.fixture
def photograph(tmp_path: Path) -> Path:
    path = tmp_path / "porch.jpg"
    Image.effect_noise((1200, 900), 60).convert("RGB").save(path, "JPEG")
    return path


@pytest.fixture
def scan(tmp_path: Path) -> Path:
    """A page as a telephone sees it, with a running line for a signature."""
    page = Image.new("RGB", (1240, 1754), "ivory")
    ImageDraw.Draw(page).line([(200, 1400), (400, 1340), (520, 1420), (800, 1350)], fill="navy", width=6)
    path = tmp_path / "form.jpg"
    page.save(path, "JPEG")
    return path


def test_a_form_signed_on_paper_goes_from_the_printer_to_the_receipt(
    story: Story, clear_recording: Path, photograph: Path, scan: Path, tmp_path: Path, console_errors: list[str]
) -> None:
    volunteer = story.volunteer(VOLUNTEER, VOLUNTEER_EMAIL)
    interview = begin_interview(volunteer, NARRATOR, NARRATOR_EMAIL)
    hand_in(volunteer, clear_recording)
    _attach(volunteer, photograph)
    _a_page_is_refused(volunteer, tmp_path)
    # The browser itself notes the refusal, and only that.
    assert [error for error in console_errors if "status of 415" not in error] == []
    console_errors.clear()
    number = _the_narrator_asks_for_paper(volunteer)
    _hand_in_the_form(volunteer, interview, number, scan)
    _sign_for_oneself(volunteer, interview)
    volunteer.goto(interview)
    volunteer.get_by_role("button", name="Hand in the interview").click()
    expect(volunteer.locator(".page-head .badge")).to_have_text("Submitted")

    archivist = story.signed_in("rowan@example.org")
    archivist.goto("/desk/?state=submitted")
    archivist.locator("table a", has_text=NARRATOR).first.click()
    archivist.get_by_role("button", name="Take up the review").click()
    expect(archivist.get_by_role("img", name="Edith on her porch")).to_be_visible()
    expect(archivist.locator("#checklist")).to_contain_text(f"The paper form of {NARRATOR} waits to be confirmed")
    expect(archivist.get_by_role("button", name="Accept", exact=True)).to_have_count(0)
    _confirm(archivist, number)
    _accept(archivist, interview)

    receipt = _pdf_of(archivist.get_by_role("link", name=re.compile("Acceptance receipt")))
    assert "Photograph: porch.jpg" in receipt
    assert f"Signed by hand on form {number}" in receipt
    on_paper = archivist.locator("dd", has_text="on paper")
    release = _pdf_of(on_paper.get_by_role("link", name=re.compile("Release S-")))
    assert f"Signed by hand on the printed form {number}" in release
    assert "Confirmed from its scan by Rowan Pike" in release
    story.wait_for_mail(NARRATOR_EMAIL, "Your copy of the release you signed")


def _attach(page: Page, photograph: Path) -> None:
    page.get_by_text("Add a photograph, field notes or a transcript").click()
    page.get_by_label("What it is", exact=True).select_option("photograph")
    page.get_by_label("Caption").fill("Edith on her porch")
    page.locator("#attach-files").set_input_files(str(photograph))
    stored = page.locator("#attachments li", has_text="Photograph: porch.jpg")
    expect(stored.get_by_text("Stored twice, both copies match.")).to_be_visible(timeout=PATIENCE_MS)
    expect(stored).to_contain_text("Edith on her porch")


def _a_page_is_refused(page: Page, folder: Path) -> None:
    """Whatever it calls itself."""
    wrong = folder / "notes.txt"
    wrong.write_text("<html><script>alert(1)</script>")
    page.locator("#attach-files").set_input_files(str(wrong))
    expect(page.get_by_text("“notes.txt” is not a file that can be taken here.").first).to_be_visible()
    page.reload()
    expect(page.locator("#attachments")).not_to_contain_text("notes.txt")


def _the_narrator_asks_for_paper(page: Page) -> str:
    """In a session switched to her release; returns the form's number."""
    hand_over(page, NARRATOR)
    page.get_by_role("link", name="I would rather sign on paper").click()
    page.get_by_role("button", name="Make the form").click()
    link = page.get_by_role("link", name=re.compile("Open form F-"))
    pdf = page.request.get(link.get_attribute("href")).body()
    number = re.search(r"F-\w{4}-\w{4}-\w{4}", link.inner_text()).group()
    text = "\n".join(sheet.extract_text() for sheet in PdfReader(BytesIO(pdf)).pages)
    assert number in text
    assert NARRATOR in text
    page.get_by_role("button", name="give the device back").click()
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
    sign_in(page, VOLUNTEER_EMAIL)
    return number


def _hand_in_the_form(page: Page, interview: str, number: str, scan: Path) -> None:
    page.goto(interview)
    page.locator("#people tr", has_text=NARRATOR).get_by_role("link", name="Sign on paper").click()
    page.get_by_label("Form number").select_option(number)
    page.get_by_label("On site only").check()
    page.get_by_label("Their name may be shown").check()
    page.get_by_label("Name written on the form").fill(NARRATOR)
    page.get_by_label("Day written on the form").fill(page.evaluate("new Date().toISOString().slice(0, 10)"))
    page.get_by_role("button", name="Go on to the scan").click()
    page.locator("#scan-files").set_input_files(str(scan))
    page.get_by_role("button", name="Hand in the signed form").click(timeout=PATIENCE_MS)
    expect(page.get_by_text("waits to be confirmed by the library’s staff")).to_be_visible()


def _sign_for_oneself(page: Page, interview: str) -> None:
    """The volunteer's own release: another name than theirs is asked about before it passes."""
    page.goto(interview)
    hand_over(page, VOLUNTEER)
    agree_to_sign_on_screen(page)
    page.get_by_label("Open: anyone may hear it").check()
    page.get_by_label("No public licence").check()
    page.get_by_label("Your full name, as your signature").fill("C. Wynn")
    page.get_by_label("I have read the text above, and I sign it.").check()
    page.get_by_role("button", name="Sign", exact=True).click()
    page.get_by_label("Yes, this is how I sign.").check()
    sign(page)
    sign_in(page, VOLUNTEER_EMAIL)


def _confirm(page: Page, number: str) -> None:
    page.goto("/desk/signed-forms/")
    page.get_by_role("link", name=NARRATOR).click()
    expect(page.get_by_role("heading", name=f"Form {number}")).to_be_visible()
    picture = page.get_by_role("img", name=f"Scan of form {number}")
    assert picture.evaluate("picture => picture.decode().then(() => picture.naturalWidth)") == 1240
    page.get_by_role("button", name="Confirm").click()
    expect(page.get_by_text("stands. The signer's copy is being made.")).to_be_visible()


def _accept(page: Page, interview: str) -> None:
    page.goto(interview.replace("/interviews/", "/desk/interviews/"))
    expect(page.locator("#releases-title + dl")).to_contain_text("On site only")
    problems = page.locator(".problem")
    for place in range(problems.count()):
        problems.nth(place).get_by_label("Accept because").fill("It cannot be recorded again.")
        problems.nth(place).get_by_role("button", name="Keep this answer").click()
    page.get_by_role("button", name="Accept", exact=True).click()
    expect(page.locator(".page-head .badge")).to_have_text("Accepted")


def _pdf_of(link: Locator) -> str:
    """The text of a paper that a page links to, once it has been made."""
    for _ in range(60):
        if link.count():
            break
        link.page.wait_for_timeout(500)
        link.page.reload()
    pdf = link.page.request.get(link.get_attribute("href")).body()
    return " ".join(" ".join(sheet.extract_text() for sheet in PdfReader(BytesIO(pdf)).pages).split())
