"""A volunteer's browser, and what it works on."""

import pytest
from django.test import Client

from intake.interviews.models import Interview, State
from tests.factories import a_started_interview, an_interview
from tests.portal.tus import create


@pytest.fixture
def browser(client, volunteer) -> Client:
    """The volunteer's own browser, signed in."""
    client.force_login(volunteer)
    return client


@pytest.fixture
def interview(volunteer) -> Interview:
    """Begun, with nothing recorded."""
    return a_started_interview(volunteer)


@pytest.fixture
def draft(volunteer) -> Interview:
    """With two parts stored."""
    return an_interview(State.DRAFT, owner=volunteer, parts=2)


@pytest.fixture
def address(browser, interview) -> str:
    """Where a new upload of ten bytes takes its pieces."""
    return create(browser, interview)["Location"]
