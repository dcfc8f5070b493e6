"""A link for one person does not stay in the database."""

import pytest
from django.core import mail as outbox

from intake.mail import services
from intake.mail.models import Message
from intake.people.services import invite
from tests.factories import run_jobs

pytestmark = pytest.mark.django_db


def test_an_invitation_is_sent_and_then_forgotten(coordinator) -> None:
    invite(
        name="Orla Finch",
        email="orla@example.org",
        role="volunteer",
        actor=coordinator,
        url_for=lambda token: f"https://example.org/welcome/{token}/",
    )
    run_jobs()
    assert "https://example.org/welcome/" in outbox.outbox[-1].body
    assert Message.objects.get(to="orla@example.org").text == ""


def test_a_message_without_a_secret_is_kept_as_it_was_sent() -> None:
    context = {"name": "Orla", "number": "S-1", "url": "https://example.org/check/S-1/"}
    message = services.write(key="kept", to="orla@example.org", template="release_copy", context=context)
    run_jobs()
    message.refresh_from_db()
    assert "S-1" in message.text
