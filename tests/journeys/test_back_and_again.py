"""The back button shows what is true now, two tabs lose nothing, and errors are read first."""

import pytest
from playwright.sync_api import expect

from tests.journeys.begun import a_volunteer, an_interview_of
from tests.journeys.story import Story

pytestmark = [pytest.mark.browser, pytest.mark.processes]


def test_withdrawing_again_from_a_page_come_back_to_is_answered_calmly(story: Story) -> None:
    email = a_volunteer(story)
    address = an_interview_of(story, email)
    page = story.signed_in(email)
    page.goto(address)
    expect(page.get_by_role("link", name="Change the description")).to_be_visible()
    page.get_by_role("link", name="Withdraw this interview").click()
    page.get_by_label("Why is it withdrawn?").fill("The narrator wishes it.")
    page.get_by_role("button", name="Withdraw the interview").click()
    expect(page.get_by_text("This interview was withdrawn.")).to_be_visible()
    page.go_back()
    page.get_by_label("Why is it withdrawn?").fill("Once more.")
    page.get_by_role("button", name="Withdraw the interview").click()
    expect(page.get_by_text("This interview has been withdrawn already.").first).to_be_visible()


def test_back_shows_the_interview_as_it_is_now_although_it_changed_elsewhere(story: Story) -> None:
    email = a_volunteer(story)
    address = an_interview_of(story, email)
    page = story.signed_in(email)
    page.goto(address)
    expect(page.get_by_role("link", name="Change the description")).to_be_visible()
    page.goto("/interviews/")
    number = address.strip("/").split("/")[1]
    story.site.shell(
        "from intake.accounts.models import User\n"
        "from intake.workflow import withdraw\n"
        f"withdraw({number}, reason='x', actor=User.objects.get(email={email!r}))\n"
    )
    page.go_back()
    expect(page.get_by_text("This interview was withdrawn.")).to_be_visible()
    expect(page.get_by_role("link", name="Change the description")).to_have_count(0)


def test_two_tabs_on_one_description_keep_both_peoples_words(story: Story, console_errors: list[str]) -> None:
    email = a_volunteer(story)
    address = an_interview_of(story, email)
    first = story.signed_in(email)
    first.goto(f"{address}edit/")
    second = first.context.new_page()
    second.goto(f"{address}edit/")
    first.get_by_label("What it is about").fill("The last ferry, and the ice.")
    first.get_by_label("Where you recorded").fill("On board")
    first.get_by_role("button", name="Save").click()
    expect(first.get_by_text("On board")).to_be_visible()

    second.get_by_label("What it is about").fill("The ferry's cable.")
    second.get_by_label("Names and spellings").fill("Osgood")
    second.get_by_role("button", name="Save").click()
    summary = second.locator("[data-error-summary]")
    expect(summary).to_be_focused()
    expect(summary).to_contain_text("Nothing is lost: both versions stand below.")
    expect(second.get_by_role("heading", name="What it is about: two versions")).to_be_visible()
    expect(second.locator("blockquote")).to_have_text("The last ferry, and the ice.")
    expect(second.locator("[name=summary]")).to_have_value("The ferry's cable.")
    second.get_by_label("Keep the saved version, and not what I typed").check()
    second.get_by_role("button", name="Save").click()
    for words in ("The last ferry, and the ice.", "Osgood", "On board"):
        expect(second.get_by_text(words)).to_be_visible()
    console_errors.clear()  # the browser notes the 409


def test_errors_are_read_first_lead_to_their_fields_and_keep_what_was_typed(story: Story) -> None:
    page = story.signed_in(a_volunteer(story))
    page.goto("/interviews/new/")
    page.get_by_label("What it is about").fill("The last ferry.")
    page.get_by_label("Narrator's e-mail address").fill("marit at home")
    page.get_by_role("button", name="Begin", exact=True).click()
    summary = page.locator("[data-error-summary]")
    expect(summary).to_be_focused()
    for sentence in (
        "Write the narrator's name.",
        "“Narrator's e-mail address” is not an e-mail address. It looks like marit@example.org.",
        "Write the day of the interview.",
        "Write where the interview was recorded.",
    ):
        expect(summary).to_contain_text(sentence)
        expect(page.locator(".field-errors").get_by_text(sentence)).to_be_visible()
    expect(page.get_by_label("What it is about")).to_have_value("The last ferry.")
    summary.get_by_role("link", name="Write where the interview was recorded.").click()
    expect(page.get_by_label("Where you recorded")).to_be_focused()
