"""An accepted interview is transcribed, described and catalogued, by keyboard alone."""

import re
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.journeys.at_the_desk import an_interview_accepted, tab_to, wait_until_drawn
from tests.journeys.story import PATIENCE_MS, Story

pytestmark = [pytest.mark.browser, pytest.mark.processes]


def test_words_are_written_and_the_record_is_catalogued_by_keyboard(
    story: Story, clear_recording: Path, console_errors: list[str]
) -> None:
    address = an_interview_accepted(story, "Ottoline Farrow", clear_recording)
    page = story.signed_in("rowan@example.org")
    wait_until_drawn(page, f"{address}text/transcript/", PATIENCE_MS)
    _write_words(page)
    _change_words(page, console_errors)
    _write_the_name_right(page)
    _describe(page)
    _give_a_heading(page)
    _name_everybody(page)
    _catalogue(page)
    _find_it_by_its_subject(page)


def _words(page: Page) -> list[str]:
    return page.locator("[data-cue-words]").all_text_contents()


def _write_words(page: Page) -> None:
    stage = page.locator("[data-desk-stage]")
    tab_to(page, stage)
    page.keyboard.press("Shift+ArrowRight")
    page.keyboard.press("w")
    expect(page.locator("[data-cue-form] textarea")).to_be_focused()
    expect(page.locator("[data-cue-form] [name=from_seconds]")).to_have_value("0:01.000")
    page.keyboard.type("Kesler rang the bell.")
    page.keyboard.press("Control+Space")
    expect(page.locator('[data-desk-do="toggle"]')).to_have_text("Pause")
    page.keyboard.press("Control+Space")
    expect(page.locator('[data-desk-do="toggle"]')).to_have_text("Play")
    page.keyboard.press("Control+Enter")
    expect(page.locator("[data-cue]")).to_have_count(1)
    page.keyboard.type("And Kesler went home.")
    page.keyboard.press("Control+Enter")
    expect(page.locator("[data-cue]")).to_have_count(2)
    page.keyboard.press("Escape")
    expect(stage).to_be_focused()
    page.reload()
    assert _words(page) == ["Kesler rang the bell.", "And Kesler went home."]


def _change_words(page: Page, complaints: list[str]) -> None:
    tab_to(page, page.locator("[data-cue-change]").first)
    page.keyboard.press("Enter")
    page.keyboard.press("Control+End")
    page.keyboard.type(" Twice.")
    tab_to(page, page.locator("[data-cue-form]").get_by_role("button", name="Keep", exact=True))
    page.keyboard.press("Enter")
    expect(page.locator("[data-cue-words]").first).to_have_text("Kesler rang the bell. Twice.")
    tab_to(page, page.get_by_role("button", name="Write here"))
    page.keyboard.press("Enter")
    tab_to(page, page.locator("[data-cue-form]").get_by_role("button", name="Keep", exact=True))
    page.keyboard.press("Enter")
    expect(page.locator("[data-cue-status]")).to_have_text("Write some words.")
    assert len(complaints) == 1
    complaints.clear()
    page.keyboard.press("Escape")


def _write_the_name_right(page: Page) -> None:
    page.reload()
    tab_to(page, page.get_by_role("button", name="Write “Kessler”"))
    page.keyboard.press("Enter")
    expect(page.get_by_text("Written “Kessler” in 2 cues.")).to_be_visible()
    assert _words(page) == ["Kessler rang the bell. Twice.", "And Kessler went home."]
    tab_to(page, page.get_by_role("button", name="It is checked against the sound"))
    page.keyboard.press("Enter")
    expect(page.get_by_text("Checked against the sound by")).to_be_visible()


def _describe(page: Page) -> None:
    tab_to(page, page.get_by_role("link", name="Description", exact=True))
    page.keyboard.press("Enter")
    tab_to(page, page.get_by_label("Title"))
    page.keyboard.type("The bell of the ferry")
    tab_to(page, page.get_by_label("Times that are spoken of"))
    page.keyboard.type("about 1950")
    page.keyboard.press("Enter")
    expect(page.get_by_text("Perhaps 1950~?").first).to_be_visible()
    tab_to(page, page.get_by_label("Times that are spoken of"))
    page.keyboard.press("Control+A")
    page.keyboard.type("1950~")
    tab_to(page, page.get_by_label("Rights"))
    page.keyboard.type("In copyright")
    tab_to(page, page.get_by_role("button", name="Keep the record"))
    page.keyboard.press("Enter")
    expect(page.get_by_text("The record says so now.")).to_be_visible()


def _give_a_heading(page: Page) -> None:
    tab_to(page, page.get_by_label("Subject or place"))
    page.keyboard.type("Ferry bells")
    page.keyboard.press("Enter")
    tab_to(page, page.get_by_role("button", name="As a subject"))
    page.keyboard.press("Enter")
    expect(page.locator("#headings .rows li")).to_contain_text("Ferry bells")
    tab_to(page, page.get_by_label("Subject or place"))
    page.keyboard.type("fer")
    expect(page.locator("datalist option[value='Ferry bells']")).to_have_count(1)


def _name_everybody(page: Page) -> None:
    rows = page.locator("#people tbody tr")
    for place in range(rows.count()):
        tab_to(page, rows.nth(place).get_by_role("link", name=re.compile("^Name")))
        page.keyboard.press("Enter")
        name = page.get_by_role("heading", level=1).inner_text().removesuffix(" in the catalogue")
        given, _, family = name.rpartition(" ")
        tab_to(page, page.get_by_label("Name in catalogue order"))
        page.keyboard.type(f"{family}, {given}")
        page.keyboard.press("Enter")
        expect(rows.nth(place)).to_contain_text(f"{family}, {given}")


def _catalogue(page: Page) -> None:
    tab_to(page, page.get_by_role("button", name="Catalogue the interview"))
    page.keyboard.press("Enter")
    expect(page.locator(".page-head .badge")).to_have_text("Catalogued")


def _find_it_by_its_subject(page: Page) -> None:
    page.goto("/desk/")
    tab_to(page, page.get_by_label("Words"))
    page.keyboard.type("ferry bells")
    page.keyboard.press("Enter")
    expect(page.locator("tbody tr")).to_have_count(1)
    expect(page.locator("tbody tr")).to_contain_text("The bell of the ferry")
