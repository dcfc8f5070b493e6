"""Handing in, when things do not go smoothly."""

import re
from pathlib import Path

import pytest
from playwright.sync_api import Page, Request, expect

from tests.journeys.story import PATIENCE_MS, Story, begin_interview, choose

pytestmark = [pytest.mark.browser, pytest.mark.processes]
MEGABYTE = 1_000_000


def _slow_down(page: Page, bytes_per_second: int) -> None:
    """A home connection, by the browser's own network emulation."""
    session = page.context.new_cdp_session(page)
    session.send("Network.enable")
    conditions = {"offline": False, "latency": 5, "downloadThroughput": -1, "uploadThroughput": bytes_per_second}
    session.send("Network.emulateNetworkConditions", conditions)


def _offset(page: Page) -> int:
    """How much the server holds of the only unfinished upload on the page, in bytes."""
    known = page.request.get(page.url).text()
    return int(re.search(r'"offset": (\d+)', known).group(1))


def test_a_paused_upload_goes_on_where_it_stopped_even_after_the_browser_was_closed(
    story: Story, large_recording: Path
) -> None:
    page = story.volunteer("Tobias Marr", "tobias@example.org")
    interview = begin_interview(page, "Edda Lowell", "edda@example.org")
    _slow_down(page, 4 * MEGABYTE)
    choose(page, large_recording)
    row = page.locator("[data-upload-list] li", has_text=large_recording.name)
    expect(row.get_by_text(re.compile(r"MB/s.*left"))).to_be_visible(timeout=PATIENCE_MS)
    _wait_for_a_piece(page)
    row.get_by_role("button", name="Pause").click()
    expect(row.get_by_text("Paused. What has arrived is kept.")).to_be_visible()
    held = _offset(page)
    assert 0 < held < large_recording.stat().st_size
    cookies = page.context.cookies()
    page.context.close()

    again = story.new_page()
    again.context.add_cookies(cookies)
    again.goto(interview)
    sent: list[int] = []
    again.on("request", lambda request: sent.extend(_offset_sent(request)))
    choose(again, large_recording)
    part = again.locator("#parts li", has_text=large_recording.name)
    expect(part.get_by_text("Stored twice, both copies match.")).to_be_visible(timeout=PATIENCE_MS)
    assert min(sent) == held, "the second browser begins where the first was paused"
    expect(again.locator("#parts li")).to_have_count(1)


def test_a_stopped_upload_is_gone_and_an_empty_file_is_refused_in_words(
    story: Story, large_recording: Path, tmp_path: Path
) -> None:
    page = story.volunteer("Mina Thorpe", "mina@example.org")
    begin_interview(page, "Anselm Reed", "")
    empty = tmp_path / "0003.WAV"
    empty.write_bytes(b"")
    choose(page, empty)
    expect(page.get_by_role("list", name="Recordings in hand")).to_contain_text("empty")
    _slow_down(page, 2 * MEGABYTE)
    choose(page, large_recording)
    row = page.locator("[data-upload-list] li", has_text=large_recording.name)
    row.get_by_role("button", name="Stop").click()
    page.get_by_role("button", name="Stop and remove").click()
    expect(row.get_by_text("Stopped.")).to_be_visible()
    page.reload()
    expect(page.get_by_text("No recording has arrived yet.")).to_be_visible()


def _offset_sent(request: Request) -> list[int]:
    return [int(request.headers["upload-offset"])] if request.method == "PATCH" else []


def _wait_for_a_piece(page: Page) -> None:
    for _ in range(200):
        if _offset(page) > 0:
            return
        page.wait_for_timeout(100)
    raise AssertionError("no piece arrived")
