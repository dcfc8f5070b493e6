"""The mail server that the tests of sending hand their messages to."""

from collections.abc import Iterator

import pytest

from tests.mail.server import MailServer, a_free_port, start


@pytest.fixture
def server(settings) -> Iterator[MailServer]:
    """A running mail server, and a site that uses it."""
    server = MailServer()
    controller = start(server)
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", controller.port
    yield server
    controller.stop()


@pytest.fixture
def no_server(settings) -> None:
    """Nobody listens where the mail server should be."""
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", a_free_port()
