"""Away from the volunteer: a link by e-mail, opened on the narrator's own telephone, read and signed in Spanish."""

import re

from playwright.sync_api import expect

from tests.journeys.begun import a_volunteer, an_interview_of
from tests.journeys.story import PATIENCE_MS, Story, draw_signature

NARRATOR_EMAIL = "edda.lowell@example.org"
TELEPHONE = {"width": 390, "height": 844}


def test_a_narrator_signs_by_a_private_link_on_a_telephone(story: Story, console_errors: list[str]) -> None:
    email = a_volunteer(story)
    interview = an_interview_of(story, email)
    page = story.signed_in(email)
    page.goto(interview)
    page.get_by_role("link", name="Correct Edda Lowell").click()
    page.get_by_label("E-mail address").fill(NARRATOR_EMAIL)
    page.get_by_role("button", name="Save").click()
    page.get_by_role("link", name="Send a link").click()
    page.get_by_label("Release, after the recording").check()
    page.get_by_role("button", name="Send the link").click()
    expect(page.get_by_text("A link is on its way to Edda Lowell.")).to_be_visible()
    letter = re.sub(r"=\n", "", story.wait_for_mail(NARRATOR_EMAIL, "/link/"))
    address = re.search(r"https?://\S+/link/[\w-]+/", letter).group()

    telephone = story.new_page()
    telephone.set_viewport_size(TELEPHONE)
    telephone.goto(address)
    telephone.get_by_role("button", name="I am Edda Lowell: open it").click()
    telephone.get_by_label("I agree to sign on this screen").check()
    telephone.get_by_role("button", name="Show me the release").click()
    telephone.get_by_role("link", name="Cesión de la persona entrevistada").click()
    expect(telephone.get_by_text("Yo, Edda Lowell, he contado mis recuerdos")).to_be_visible()
    assert telephone.evaluate("document.documentElement.scrollWidth") <= TELEPHONE["width"]
    telephone.get_by_label("On site only").check()
    draw_signature(telephone)
    telephone.get_by_label("I have read the text above, and I sign it.").check()
    telephone.get_by_role("button", name="Sign", exact=True).click()
    expect(telephone.get_by_role("heading", name="Thank you")).to_be_visible()
    with telephone.expect_download() as download:
        telephone.get_by_role("link", name="Take your copy").click(timeout=PATIENCE_MS)
    assert download.value.path().read_bytes().startswith(b"%PDF-")

    telephone.goto(address)
    expect(telephone.get_by_role("heading", name="This link does not work")).to_be_visible()
    console_errors.clear()  # the browser tells of every answer from 400 on
    page.goto(interview)
    expect(page.locator("#people tr", has_text="Edda Lowell")).to_contain_text("Signed")


def test_an_agreement_is_signed_by_the_keyboard_alone_before_the_recording(story: Story) -> None:
    email = a_volunteer(story)
    page = story.signed_in(email)
    page.goto(an_interview_of(story, email))
    page.get_by_role("link", name=re.compile("sign it here")).focus()
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Sign me out and show the agreement").press("Enter")
    page.get_by_label("I agree to sign on this screen").press("Space")
    page.get_by_role("button", name="Show me the agreement").press("Enter")
    expect(page.get_by_role("heading", name="Agreement to take part")).to_be_visible()
    page.get_by_label("Your full name, as your signature").press_sequentially("Edda Lowell")
    page.get_by_label("I have read the text above, and I sign it.").press("Space")
    page.get_by_role("button", name="Sign", exact=True).press("Enter")
    expect(page.get_by_role("heading", name="Thank you")).to_be_visible()
