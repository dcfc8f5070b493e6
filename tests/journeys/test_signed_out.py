"""A sign-in that ends in the middle of something: nothing is lost, nothing is sent twice, nothing is another's."""

import re
from pathlib import Path

import pytest
from playwright.sync_api import Locator, Page, Route, expect

from tests.factories import a_wav
from tests.journeys.begun import a_volunteer, an_interview_of, at_their_interview
from tests.journeys.story import PASSWORD, PATIENCE_MS, Story, choose, sign_in
from tests.journeys.test_bad_files import in_hand, written

pytestmark = [pytest.mark.browser, pytest.mark.processes]
TYPED = "She told of the winter of the ice, for three hours.\nThen of the cable."


@pytest.fixture
def recording(tmp_path: Path) -> Path:
    """41 MB: three pieces."""
    path = tmp_path / "LONG.WAV"
    path.write_bytes(b"RIFF" + bytes(range(256)) * 160_000)
    return path


def sign_out_elsewhere(page: Page) -> None:
    """As when twelve hours have passed: the browser still has the page, the server knows it no more."""
    page.context.clear_cookies(name="sessionid")


def the_next_file_waits_for_a_sign_in(page: Page, recording: Path) -> Locator:
    """Sends two files; after the first piece the sign-in ends. Returns the row of the file that waits.

    What is under way carries its own capability, and comes in whole; only a new upload asks who somebody is.
    """
    offsets: list[int] = []

    def end_after_the_first(route: Route) -> None:
        if route.request.method == "PATCH":
            offsets.append(int(route.request.headers["upload-offset"]))
            if len(offsets) == 2:
                sign_out_elsewhere(page)
        route.continue_()

    page.route("**/uploads/*/*/", end_after_the_first)
    choose(page, recording, written(recording.parent, "NEXT.WAV", a_wav()))
    expect(in_hand(page, recording.name).get_by_text("It has arrived.")).to_be_visible(timeout=PATIENCE_MS)
    assert len(offsets) == len(set(offsets)) == 3, "three pieces, none of them taken twice"
    row = in_hand(page, "NEXT.WAV")
    expect(row.get_by_text("You have been signed out. What has arrived is kept.")).to_be_visible(timeout=PATIENCE_MS)
    page.unroute("**/uploads/*/*/")
    return row


def email_of(story: Story, page: Page) -> str:
    number = re.search(r"/interviews/(\d+)/", page.url).group(1)
    return story.site.shell(
        f"from intake.interviews.models import Interview\nprint(Interview.objects.get(pk={number}).owner.email)"
    ).strip()


def test_an_upload_outlives_the_sign_in_and_the_next_one_waits_for_a_new_one(
    story: Story, recording: Path, console_errors: list[str]
) -> None:
    page = at_their_interview(story)
    email = email_of(story, page)
    row = the_next_file_waits_for_a_sign_in(page, recording)
    with page.context.expect_page() as opened:
        row.get_by_role("link", name="Sign in, in another tab").click()
    other_tab = opened.value
    sign_in(other_tab, email)  # a new sign-in, and so a new token against forgery
    page.bring_to_front()
    if row.get_by_role("button", name="Resume").is_visible():
        row.get_by_role("button", name="Resume").click()
    expect(row.get_by_text("It has arrived.")).to_be_visible(timeout=PATIENCE_MS)
    page.reload()
    expect(page.locator("#parts li")).to_have_count(2)
    console_errors.clear()  # the browser notes each 401


def test_somebody_else_who_signs_in_does_not_go_on_with_it(
    story: Story, recording: Path, console_errors: list[str]
) -> None:
    page = at_their_interview(story)
    row = the_next_file_waits_for_a_sign_in(page, recording)
    other_tab = page.context.new_page()
    sign_in(other_tab, "rowan@example.org")  # an archivist, who may see the interview
    page.bring_to_front()
    if row.get_by_role("button", name="Resume").is_visible():
        row.get_by_role("button", name="Resume").click()
    expect(row.get_by_text("Somebody else is signed in in this browser now, so this waits.")).to_be_visible()
    number = re.search(r"/interviews/(\d+)/", page.url).group(1)
    count = story.site.shell(
        f"from intake.interviews.models import Part\nprint(Part.objects.filter(interview={number}).count())"
    )
    assert int(count) == 1
    console_errors.clear()


def test_what_was_typed_is_still_there_after_signing_in_again(story: Story) -> None:
    email = a_volunteer(story)
    address = an_interview_of(story, email)
    page = story.signed_in(email)
    page.goto(f"{address}edit/")
    page.get_by_label("What it is about").fill(TYPED)
    sign_out_elsewhere(page)
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
    page.locator("[name=login]").fill(email)
    page.locator("[name=password]").fill(PASSWORD)
    page.get_by_role("button", name="Sign in", exact=True).click()
    expect(page.get_by_text("What you had typed here is back. It is not saved yet.")).to_be_visible()
    expect(page.get_by_label("What it is about")).to_have_value(TYPED)
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_text("She told of the winter of the ice")).to_be_visible()
    page.goto(f"{address}edit/")
    expect(page.get_by_label("What it is about")).to_have_value(TYPED)
    expect(page.get_by_text("What you had typed here is back.")).to_have_count(0)
    assert _kept(page) == 0


def test_nobody_else_on_the_computer_finds_what_was_typed(story: Story) -> None:
    email = a_volunteer(story)
    address = an_interview_of(story, email)
    page = story.signed_in(email)
    page.goto(f"{address}edit/")
    page.get_by_label("What it is about").fill(TYPED)
    assert _kept(page) == 1
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
    assert _kept(page) == 0

    sign_in(page, email)
    page.goto(f"{address}edit/")
    page.get_by_label("What it is about").fill(TYPED)
    sign_out_elsewhere(page)
    sign_in(page, "rowan@example.org")
    assert _kept(page) == 0


def test_a_token_that_a_new_sign_in_has_replaced_loses_nothing_that_was_typed(
    story: Story, console_errors: list[str]
) -> None:
    email = a_volunteer(story)
    address = an_interview_of(story, email)
    page = story.signed_in(email)
    page.goto(f"{address}edit/")
    page.get_by_label("What it is about").fill(TYPED)
    sign_out_elsewhere(page)
    other_tab = page.context.new_page()
    sign_in(other_tab, email)
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_role("heading", name="Please send it again")).to_be_visible()
    page.get_by_role("link", name="Open the page anew").click()
    expect(page.get_by_label("What it is about")).to_have_value(TYPED)
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_text("She told of the winter of the ice")).to_be_visible()
    console_errors.clear()  # the browser notes the 403


def _kept(page: Page) -> int:
    return page.evaluate("Object.keys(sessionStorage).filter((key) => key.startsWith('draft|')).length")
