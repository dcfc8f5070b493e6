"""The archivist's morning: a whole review by keyboard alone, and a recording of four hours."""

import re
import time
from pathlib import Path

import numpy as np
import pytest
from playwright.sync_api import Page, Response, expect

from tests.journeys.at_the_desk import an_interview_handed_in, tab_to, wait_until_drawn
from tests.journeys.story import PATIENCE_MS, Story
from tests.signals import write

pytestmark = [pytest.mark.browser, pytest.mark.processes]
HOURS = 4
# Four hours are measured, encoded and drawn by the site's own worker while other tests run.
LONG_PATIENCE_MS = 400_000

MOST_BYTES = 3_000_000  # of the page with all it needs; the recording has 230 MB
# The page makes its players itself; this keeps them where a test can ask them.
KEEP_THE_PLAYERS = """
window.players = [];
const Made = window.Audio;
window.Audio = function (...told) { const player = new Made(...told); window.players.push(player); return player; };
"""
IS_HEARD = """at => players.some((one) =>
  !one.paused && !one.seeking && one.readyState > 2 && Math.abs(one.currentTime - at) < 60)"""
IS_DRAWN = """() => {
  const canvas = document.querySelector("[data-desk-lane=spectrum]");
  return canvas && canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height).data.some((one) => one);
}"""


def position(page: Page) -> float:
    return float(page.locator("[data-desk-stage]").get_attribute("aria-valuenow"))


def test_a_whole_review_by_keyboard(story: Story, clear_recording: Path, clipped_recording: Path) -> None:
    address = an_interview_handed_in(story, "Hester Quillon", clear_recording, clipped_recording)
    page = story.signed_in("rowan@example.org")
    wait_until_drawn(page, address, PATIENCE_MS)
    _open_by_keys(page, "Hester Quillon")
    _take_up(page)
    _listen(page)
    _write_a_note(page)
    _check_the_opening(page)
    _answer_the_problems(page)
    _accept(page)


def _open_by_keys(page: Page, narrator: str) -> None:
    page.goto("/desk/")
    tab_to(page, page.get_by_label("Words"))
    page.keyboard.type(narrator)
    page.keyboard.press("Enter")
    expect(page.locator("tbody tr")).to_have_count(1)
    link = page.locator("tbody th a")
    tab_to(page, link)
    page.keyboard.press("x")
    expect(page.locator("tbody input[type=checkbox]")).to_be_checked()
    page.keyboard.press("x")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_contain_text(narrator)


def _take_up(page: Page) -> None:
    tab_to(page, page.get_by_role("button", name="Take up the review"))
    page.keyboard.press("Enter")
    expect(page.locator(".page-head .badge")).to_have_text("In review")


def _listen(page: Page) -> None:
    stage = page.locator("[data-desk-stage]")
    tab_to(page, stage)
    told = page.locator("#desk-told").evaluate("told => JSON.parse(told.textContent)")
    whole = sum(part["seconds"] for part in told["parts"])
    page.keyboard.press("End")
    assert position(page) == pytest.approx(whole, abs=1)
    expect(stage).to_have_attribute("aria-valuetext", re.compile("part 2$"))
    page.keyboard.press("Home")
    page.keyboard.press("ArrowRight")
    assert position(page) == 5
    page.keyboard.press("Shift+ArrowLeft")
    assert position(page) == 4
    page.keyboard.press("n")
    expect(page.locator("[data-desk-status]")).to_contain_text(", at ")
    for key in ("+", "+", "-", "0", ".", ",", "c"):
        page.keyboard.press(key)
    page.keyboard.press("Home")
    page.keyboard.press("Space")
    expect(page.locator("[data-desk-stage]")).to_have_attribute(
        "aria-valuenow", re.compile(r"^([2-9]|\d\d)$"), timeout=PATIENCE_MS
    )
    page.keyboard.press("Space")
    expect(page.locator('[data-desk-do="toggle"]')).to_have_text("Play")
    expect(page.locator("[data-desk-heard]")).to_contain_text(re.compile(r"heard [1-9]\d* %"))


def _write_a_note(page: Page) -> None:
    page.keyboard.press("m")
    page.keyboard.type("She spells it with two l.")
    page.keyboard.press("Enter")
    expect(page.locator("[data-desk-notes] li")).to_contain_text("Note: She spells it with two l.")
    expect(page.locator("[data-desk-stage]")).to_be_focused()
    page.keyboard.press("m")
    page.keyboard.press("Escape")
    expect(page.locator("[data-desk-note]")).to_be_hidden()
    page.reload()
    expect(page.locator("[data-desk-notes] li")).to_contain_text("She spells it with two l.")
    tab_to(page, page.get_by_role("button", name="Take away the note"))
    page.keyboard.press("Enter")
    expect(page.get_by_text("None yet. They are for the library's staff alone.")).to_be_visible()
    expect(page.locator("[data-desk-heard]")).to_contain_text(re.compile(r"heard [1-9]\d* %"))


def _check_the_opening(page: Page) -> None:
    name = page.locator("#opening tr", has_text="Hester Quillon")
    tab_to(page, name.locator("select"))
    page.keyboard.type("heard")
    expect(name.get_by_text("Kept.")).to_be_visible()


def _answer_the_problems(page: Page) -> None:
    expect(page.locator("#checklist")).to_contain_text("is not answered.")
    problems = page.locator(".problem")
    for place in range(problems.count()):
        words = problems.nth(place).get_by_label("In your words")
        tab_to(page, words)
        page.keyboard.type("His laughter cannot be recorded again.")
        page.keyboard.press("Tab")
        expect(problems.nth(place).get_by_text("Kept.")).to_be_visible()
    expect(page.locator("#checklist")).to_contain_text("Everything that must hold before acceptance holds.")


def _accept(page: Page) -> None:
    tab_to(page, page.get_by_role("button", name="Accept", exact=True))
    page.keyboard.press("Enter")
    expect(page.locator(".page-head .badge")).to_have_text("Accepted")


@pytest.fixture(scope="module")
def four_hours(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A hiss at 8 kHz, louder from minute to minute, so that its hour can be seen."""
    minute = np.random.default_rng(4).standard_normal(8_000 * 60) * 0.02
    louder = np.concatenate([minute * (1 + number / 60) for number in range(60 * HOURS)])
    return write(tmp_path_factory.mktemp("long") / "LONG0001.WAV", louder, 8_000, subtype="PCM_16")


def test_four_hours_are_opened_and_sought_without_fetching_them(story: Story, four_hours: Path) -> None:
    """How long it takes is printed and told in docs/decisions/0025: a machine that is busy may take longer."""
    address = an_interview_handed_in(story, "Ambrose Tolliver", four_hours)
    page = story.signed_in("rowan@example.org")
    page.context.add_init_script(KEEP_THE_PLAYERS)
    wait_until_drawn(page, address, LONG_PATIENCE_MS)
    fetched: list[int] = []
    page.on("response", lambda answer: fetched.append(_bytes_of(answer)))
    opened = _opened_ms(page, address)
    assert sum(fetched) < MOST_BYTES
    seeks = [_sought_ms(page, share) for share in (0.9, 0.1, 0.5, 0.97, 0.3)]
    print(f"four hours: opened in {opened:.0f} ms, sought in {', '.join(f'{one:.0f}' for one in seeks)} ms")
    _zoom_to_milliseconds(page)


def _bytes_of(answer: Response) -> int:
    """What came along; of the sound, which the browser breaks off when it has enough, only that it came in ranges."""
    if answer.url.endswith("/listen/"):
        assert answer.status == 206
        return 0
    return int(answer.headers.get("content-length", 0))


def _opened_ms(page: Page, address: str) -> float:
    """From asking for the page until its sound is drawn."""
    began = time.monotonic()
    page.goto(address, wait_until="commit")
    _wait_for(page, IS_DRAWN)
    return (time.monotonic() - began) * 1000


def _sought_ms(page: Page, share: float) -> float:
    """From a click on the overview until the sound from there is heard."""
    overview = page.locator('[data-desk-lane="overview"]')
    box = overview.bounding_box()
    page.get_by_role("button", name="Play", exact=True).click()
    began = time.monotonic()
    overview.click(position={"x": box["width"] * share, "y": box["height"] / 2})
    _wait_for(page, IS_HEARD, HOURS * 3600 * share)
    taken = (time.monotonic() - began) * 1000
    page.get_by_role("button", name="Pause", exact=True).click()
    return taken


def _zoom_to_milliseconds(page: Page) -> None:
    page.locator("[data-desk-stage]").focus()
    for _ in range(20):
        page.keyboard.press("+")
    begins, ends = (
        _seconds(told) for told in re.findall(r"[\d:.]+\d", page.locator("[data-desk-status]").inner_text())
    )
    assert ends - begins < 0.5
    _wait_for(page, IS_DRAWN)


def _wait_for(page: Page, what: str, told: float | None = None) -> None:
    """Ask until it is so. Playwright's own way of waiting evaluates a text, which the site's policy forbids."""
    deadline = time.monotonic() + PATIENCE_MS / 1000
    while not page.evaluate(what, told):
        assert time.monotonic() < deadline, f"never came true: {what}"
        time.sleep(0.01)


def _seconds(timecode: str) -> float:
    parts = [float(one) for one in timecode.split(":")]
    return sum(one * 60**place for place, one in enumerate(reversed(parts)))
