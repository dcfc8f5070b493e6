"""A volunteer with an interview begun, made beside the running site: for stories that are about what comes after."""

from itertools import count

from playwright.sync_api import Page

from tests.journeys.story import COLLECTION, PASSWORD, Story

_numbers = count(1)


def a_volunteer(story: Story, name: str = "Tobias Marr") -> str:
    """The e-mail address of a new volunteer."""
    email = f"begun-{next(_numbers)}@example.org"
    story.site.shell(
        "from intake.accounts.models import User\n"
        f"User.objects.create_user({email!r}, {PASSWORD!r}, name={name!r}, role='volunteer')\n"
    )
    return email


def an_interview_of(story: Story, email: str) -> str:
    """The address of an interview that this volunteer has begun."""
    return story.site.shell(
        "from datetime import date\n"
        "from intake.accounts.models import User\n"
        "from intake.interviews.models import Collection\n"
        "from intake.interviews.services import Description, start\n"
        f"collection = Collection.objects.get(name={COLLECTION!r})\n"
        "said = Description(collection, date(2026, 11, 12), 'At home', 'en', 'The last ferry.', '', '')\n"
        f"owner = User.objects.get(email={email!r})\n"
        "begun = start(actor=owner, description=said, narrator_name='Edda Lowell', narrator_email='')\n"
        "print(f'/interviews/{begun.pk}/')\n"
    ).strip()


def at_their_interview(story: Story) -> Page:
    """A new volunteer's browser, on the page of an interview that holds nothing yet."""
    email = a_volunteer(story)
    address = an_interview_of(story, email)
    page = story.signed_in(email)
    page.goto(address)
    return page
