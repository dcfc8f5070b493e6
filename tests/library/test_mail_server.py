"""The mail server that the coordinator chooses: used at once, its password kept encrypted, its answers put in words."""

import smtplib
import socket
import ssl
from pathlib import Path

import pytest
from django.core import mail
from django.urls import reverse

from intake.audit.models import Event, EventNames
from intake.errors import Refused
from intake.library import services as libraries
from intake.library.models import Library
from intake.library.secret import decrypted, encrypted
from intake.mail import trial
from intake.mail.answers import in_plain_words
from tests.factories import describe_the_library
from tests.library.post_office import a_post_office
from tests.pages import signed_in, text_of

pytestmark = pytest.mark.django_db
PASSWORD = "heron-on-the-weir"


@pytest.fixture(autouse=True)
def ours(settings, tmp_path: Path) -> None:
    settings.EMAIL_BACKEND = "intake.mail.backend.EmailBackend"
    settings.EMAIL_FILE_PATH = str(tmp_path / "mail")
    settings.EMAIL_TIMEOUT = 3


def choose(coordinator, port: int, **changes):
    chosen = {
        "server": "127.0.0.1",
        "port": port,
        "security": "none",
        "user": "history",
        "password": PASSWORD,
        "sender": "history@alderferry.example.org",
    }
    return libraries.send_mail_by(**{**chosen, **changes}, actor=coordinator)


def test_without_a_server_messages_lie_in_a_folder_and_the_site_says_so(archivist, coordinator, settings):
    told = trial.send_to(coordinator)
    assert "has not been sent to anybody" in told
    assert len(list(Path(settings.EMAIL_FILE_PATH).iterdir())) == 1
    assert "No mail leaves this computer." in text_of(signed_in(archivist).get(reverse("desk:queue")))


def test_a_message_goes_to_the_chosen_server(coordinator):
    describe_the_library(coordinator)
    with a_post_office(history=PASSWORD) as office:
        choose(coordinator, office.port)
        assert "has taken the message to ottilie@example.org" in trial.send_to(coordinator)
    (message,) = office.taken
    assert "From: Alder Ferry Public Library <history@alderferry.example.org>" in message
    assert "No mail leaves" not in text_of(signed_in(coordinator).get(reverse("desk:queue")))


def test_a_wrong_password_is_told_in_words(coordinator):
    with a_post_office(history="another") as office:
        choose(coordinator, office.port)
        with pytest.raises(Refused, match=r"does not accept the user name and password that the site gives: 535"):
            trial.send_to(coordinator)
    assert office.taken == []


def test_nothing_at_the_port_is_told_in_words(coordinator):
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    choose(coordinator, port)
    answer = signed_in(coordinator).post(reverse("desk:set-up-mail-test"), follow=True)
    assert "Nothing answers at this port of the mail server" in text_of(answer)


def test_the_wrong_protection_is_told_in_words(coordinator):
    with a_post_office() as office:
        choose(coordinator, office.port, security="starttls", user="")
        with pytest.raises(Refused, match="does not offer what was chosen"):
            trial.send_to(coordinator)


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (socket.gaierror(-2, "Name or service not known"), "no mail server of this name"),
        (TimeoutError("timed out"), "does not answer"),
        (ssl.SSLError(1, "wrong version number"), "do not fit"),
        (smtplib.SMTPSenderRefused(553, b"not owned", "a@example.org"), "refused the library's own address as sender"),
        (smtplib.SMTPRecipientsRefused({"a@example.org": (550, b"no")}), "refused the address"),
        (smtplib.SMTPServerDisconnected("gone"), "closed the connection"),
        (OSError(101, "Network is unreachable"), "could not be reached"),
    ],
)
def test_other_answers_have_their_words_too(error: Exception, words: str):
    assert words in in_plain_words(error)


def test_the_password_is_kept_encrypted_and_never_shown(coordinator):
    choose(coordinator, 25)
    kept = Library.objects.get().mail_password
    assert PASSWORD not in kept
    assert decrypted(kept) == PASSWORD
    assert PASSWORD not in signed_in(coordinator).get(reverse("desk:set-up-mail")).content.decode()
    told = [str(event.details) for event in Event.objects.all()] + [str(n.names) for n in EventNames.objects.all()]
    assert not any(PASSWORD in words or kept in words for words in told)


def test_an_empty_password_keeps_the_one_given_before(coordinator):
    form = {"server": "mail.example.org", "port": 587, "security": "starttls", "user": "history", "sender": ""}
    page = signed_in(coordinator)
    page.post(reverse("desk:set-up-mail"), {**form, "password": PASSWORD})
    page.post(reverse("desk:set-up-mail"), {**form, "port": 2525, "password": ""})
    library = libraries.current()
    assert (library.mail_port, decrypted(library.mail_password)) == (2525, PASSWORD)


def test_with_another_secret_key_the_password_is_asked_for_again(settings):
    kept = encrypted(PASSWORD)
    settings.SECRET_KEY = "another"
    with pytest.raises(Refused, match="secret key has changed"):
        decrypted(kept)


def test_a_password_does_not_travel_unprotected(coordinator):
    with pytest.raises(Refused, match="not sent unprotected"):
        choose(coordinator, 25, server="mail.example.org")


def test_where_the_environment_names_a_server_the_page_changes_nothing(coordinator, settings):
    settings.EMAIL_BY_ENVIRONMENT = True
    settings.EMAIL_HOST = "mail.example.org"
    page = signed_in(coordinator)
    shown = page.get(reverse("desk:set-up-mail"))
    assert "cannot be changed here" in text_of(shown)
    assert 'name="server"' not in shown.content.decode()
    page.post(reverse("desk:set-up-mail"), {"server": "x", "port": 25, "security": "none"})
    assert not Library.objects.exists()
    assert libraries.mail_leaves()


def test_every_process_sees_a_change_at_its_next_message(coordinator):
    with a_post_office() as first, a_post_office() as second:
        choose(coordinator, first.port, user="")
        mail.send_mail("one", "one", libraries.sender(), ["a@example.org"])
        choose(coordinator, second.port, user="")
        mail.send_mail("two", "two", libraries.sender(), ["a@example.org"])
    assert [len(first.taken), len(second.taken)] == [1, 1]
