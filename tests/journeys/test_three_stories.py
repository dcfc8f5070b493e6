"""The three stories, in a real browser, against the running site with its real worker.

The volunteer hands in and both sign; the archivist reviews the report and accepts; the patron gets the receipt.
"""

import email
import hashlib
import re
from io import BytesIO
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect
from pypdf import PdfReader

from tests.journeys.story import (
    PATIENCE_MS,
    Story,
    agree_to_sign_on_screen,
    begin_interview,
    draw_signature,
    hand_in,
    hand_over,
    sign,
    sign_in,
)

pytestmark = [pytest.mark.browser, pytest.mark.processes]
NARRATOR, NARRATOR_EMAIL = "Walter Osgood", "walter@example.org"
VOLUNTEER, VOLUNTEER_EMAIL = "Dorotea Vance", "dorotea@example.org"


def test_an_interview_goes_from_the_lent_kit_to_the_receipt(
    story: Story, clear_recording: Path, clipped_recording: Path
) -> None:
    volunteer = story.volunteer(VOLUNTEER, VOLUNTEER_EMAIL)
    interview = begin_interview(volunteer, NARRATOR, NARRATOR_EMAIL)
    hand_in(volunteer, clipped_recording, clear_recording)
    _put_first(volunteer, clear_recording.name)
    _both_sign(volunteer, interview)
    _submit(volunteer, interview)

    archivist = story.signed_in("rowan@example.org")
    _review_and_send_back(archivist, volunteer, interview)
    _submit(volunteer, interview)
    number = _review_and_accept(archivist)

    _patron_gets_the_receipt(story, number, [clear_recording, clipped_recording])
    _events_are_whole(story)


def _put_first(page: Page, name: str) -> None:
    assert page.locator("#parts h3").all_inner_texts()[1].endswith(name)
    page.locator("#parts li", has_text=name).get_by_role("button", name="earlier").click()
    expect(page.locator("#parts h3").first).to_contain_text(f"Part 1: {name}")


def _both_sign(page: Page, interview: str) -> None:
    hand_over(page, NARRATOR)
    _nothing_else_is_to_be_had(page, interview)
    agree_to_sign_on_screen(page)
    page.get_by_label("Closed until a date or an event").check()
    page.get_by_label("Closed until, at the latest").fill("2049-05-01")
    draw_signature(page)
    sign(page)
    sign_in(page, VOLUNTEER_EMAIL)
    page.goto(interview)
    hand_over(page, VOLUNTEER)
    agree_to_sign_on_screen(page)
    page.get_by_label("Open: anyone may hear it").check()
    page.get_by_label("No public licence").check()
    page.get_by_label("Your full name, as your signature").fill(VOLUNTEER)
    sign(page)
    sign_in(page, VOLUNTEER_EMAIL)


def _nothing_else_is_to_be_had(page: Page, interview: str) -> None:
    """In a session switched to one release, every other page asks to sign in, the one behind the back button too."""
    release = page.url
    page.go_back()
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
    for address in (interview, "/interviews/", "/desk/"):
        page.goto(address)
        expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
    page.goto(release)


def _submit(page: Page, interview: str) -> None:
    page.goto(interview)
    page.get_by_role("button", name="Hand in the interview").click()
    expect(page.locator(".page-head .badge")).to_have_text("Submitted")


def _review_and_send_back(archivist: Page, volunteer: Page, interview: str) -> None:
    _open_from_queue(archivist)
    archivist.get_by_role("button", name="Take up the review").click()
    archivist.get_by_role("link", name="Send back").click()
    archivist.get_by_label("Message to the volunteer").fill("Please write down how the ferry's name is spelled.")
    archivist.get_by_role("button", name="Send back with this message").click()
    expect(archivist.locator(".page-head .badge")).to_have_text("Returned")
    volunteer.goto(interview)
    expect(volunteer.get_by_text("how the ferry's name is spelled")).to_be_visible()


def _review_and_accept(page: Page) -> str:
    """Look at the report, play from a finding, answer the problem, accept; returns the accession number."""
    _open_from_queue(page)
    page.get_by_role("button", name="Take up the review").click()
    expect(page.get_by_text("Closed until 1 May 2049").last).to_be_visible()  # the strictest of both signers
    expect(page.get_by_role("button", name="Accept", exact=True)).to_have_count(0)
    clipped = page.locator("[data-desk-part]", has_text="Part 2")
    _play_from_a_finding(page, clipped)
    problems = clipped.locator(".problem")
    assert problems.count() >= 1
    for place in range(problems.count()):
        problems.nth(place).get_by_label("In your words").fill("His laughter cannot be recorded again.")
        problems.nth(place).get_by_label("In your words").blur()
        expect(problems.nth(place).get_by_text("Kept.")).to_be_visible()
    page.get_by_role("button", name="Accept", exact=True).click()
    expect(page.locator(".page-head .badge")).to_have_text("Accepted")
    for _ in range(2):  # a download leaves the page as it is, and may be asked for again
        with page.expect_download() as package:
            page.get_by_role("button", name="Download the preservation package").click()
        assert package.value.failure() is None
    heading = page.get_by_role("heading", name=re.compile("^Accession ")).inner_text()
    return heading.removeprefix("Accession ")


def _play_from_a_finding(page: Page, part) -> None:
    stage = page.locator("[data-desk-stage]")
    expect(stage).to_be_visible(timeout=PATIENCE_MS)
    start = part.locator(".finding-problem [data-seek]").first
    first_part = page.locator("#desk-told").evaluate("told => JSON.parse(told.textContent).parts[0].seconds")
    wanted = first_part + float(start.get_attribute("data-seek"))
    start.click()
    expect(page.get_by_role("button", name="Pause")).to_be_visible()
    expect(stage).to_have_attribute("aria-valuenow", re.compile("|".join(str(int(wanted) + more) for more in range(5))))
    page.get_by_role("button", name="Pause").click()


def _open_from_queue(page: Page) -> None:
    page.goto("/desk/?state=submitted")
    page.locator("table a", has_text=NARRATOR).first.click()


def _patron_gets_the_receipt(story: Story, number: str, recordings: list[Path]) -> None:
    """By e-mail to narrator and volunteer, and on the site; anybody may check it by its number."""
    for address in (NARRATOR_EMAIL, VOLUNTEER_EMAIL):
        text = _pdf_text(story.wait_for_mail(address, number))
        assert "Acceptance receipt" in text
        assert number in text
        assert all(_squeezed(hashlib.sha256(path.read_bytes()).hexdigest()) in _squeezed(text) for path in recordings)
        assert "Rowan Pike" in text
        assert "Closed until 1 May 2049" in text
    receipt_number = re.search(r"R-\w{4}-\w{4}-\w{4}", text).group()
    stranger = story.new_page()
    stranger.goto(f"/check/{receipt_number}/")
    expect(stranger.get_by_text("stands")).to_be_visible()
    expect(stranger.get_by_text(number)).to_be_visible()
    assert NARRATOR not in stranger.content()
    patron = story.signed_in(VOLUNTEER_EMAIL)
    patron.locator("table a", has_text=NARRATOR).first.click()
    expect(patron.get_by_role("link", name="Read the receipt")).to_be_visible()
    answer = patron.request.get(patron.get_by_role("link", name="Read the receipt").get_attribute("href"))
    assert answer.body().startswith(b"%PDF-")


def _pdf_text(mail: str) -> str:
    message = email.message_from_string(mail.split("\n" + "-" * 79, maxsplit=1)[0])
    pdf = next(part for part in message.walk() if part.get_content_type() == "application/pdf")
    return "\n".join(page.extract_text() for page in PdfReader(BytesIO(pdf.get_payload(decode=True))).pages)


def _squeezed(text: str) -> str:
    return re.sub(r"\s", "", text)


def _events_are_whole(story: Story) -> None:
    story.site.shell("from intake.audit.services import seal_pending\nwhile seal_pending(): pass")
    assert "The chain is whole" in story.site.manage("verify_events")
