"""Interviews made ready for the staff of a site that runs, and the keyboard of somebody without a mouse."""

import time
from pathlib import Path

from playwright.sync_api import Locator, Page

from tests.journeys.begun import a_volunteer
from tests.journeys.story import COLLECTION, Story

READY = f"""
from datetime import date
from pathlib import Path
from time import sleep
from intake import workflow
from intake.accounts.models import User
from intake.interviews.models import Collection, Part
from intake.interviews.services import Description, start
from intake.qc.services import latest_report
from tests import factories

def ready(email, narrator, *recordings):
    owner = User.objects.get(email=email)
    collection = Collection.objects.get(name={COLLECTION!r})
    said = Description(collection, date(2026, 11, 12), 'The boathouse', 'en', 'Ice.', '', 'Kessler')
    interview = start(actor=owner, description=said, narrator_name=narrator, narrator_email='')
    for recording in recordings:
        part = factories.a_part_stored(interview, Path(recording).read_bytes(), name=Path(recording).name)
        while not Part.objects.get(pk=part.pk).file:  # the site's own worker may have taken the job
            sleep(0.2)
    factories.sign_everybody(interview)
    return workflow.submit(interview.pk, actor=owner)

def accept(interview, email):
    reviewer = User.objects.get(email=email)
    workflow.take_up(interview.pk, actor=reviewer)
    while not all(latest_report(part.file) for part in interview.parts.all()):
        sleep(0.2)
    factories.answer_everything(interview, reviewer)
    workflow.accept(interview.pk, actor=reviewer)
"""


def an_interview_handed_in(story: Story, narrator: str, *recordings: Path) -> str:
    """The address of its review; it was handed in and signed beside the site, whose worker does the rest."""
    return _address(story, narrator, recordings, "")


def an_interview_accepted(story: Story, narrator: str, *recordings: Path) -> str:
    """The same, and accepted by Rowan."""
    return _address(story, narrator, recordings, "accept(interview, 'rowan@example.org')")


def _address(story: Story, narrator: str, recordings: tuple[Path, ...], then: str) -> str:
    paths = ", ".join(repr(str(path)) for path in recordings)
    asked = f"interview = ready({a_volunteer(story)!r}, {narrator!r}, {paths})\n{then}\nprint(interview.pk)"
    return f"/desk/interviews/{story.site.shell(f'{READY}{chr(10)}{asked}').strip()}/"


def wait_until_drawn(page: Page, address: str, patience_ms: int) -> None:
    """Look again until every part can be heard and is drawn."""
    deadline = time.monotonic() + patience_ms / 1000
    while time.monotonic() < deadline:
        page.goto(address)
        told = page.locator("#desk-told")
        if told.count() and told.evaluate("told => JSON.parse(told.textContent).parts.every(part => part.picture)"):
            return
        time.sleep(1)
    raise AssertionError("the parts were not drawn in time")


def tab_to(page: Page, wanted: Locator) -> None:
    """Press Tab until it has the focus, as somebody without a mouse does."""
    for _ in range(250):
        if wanted.evaluate("element => element === document.activeElement"):
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"Tab never comes to {wanted}")
