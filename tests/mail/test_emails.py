"""The look of an e-mail, as a mail program takes it apart."""

import re
from email.utils import parseaddr

import pytest
from django.core import mail as outbox

from intake.mail import services as mail
from intake.mail.emails import email_to, paragraphs_of
from tests.architecture.source import ROOT
from tests.factories import describe_the_library, run_jobs
from tests.web.pieces import HOSTILE, Page

pytestmark = pytest.mark.django_db


@pytest.fixture
def received(server, settings, coordinator):
    describe_the_library(coordinator)
    settings.DEFAULT_FROM_EMAIL = "Alder Ferry Public Library <history@alderferry.example.org>"
    context = {"name": f"Marit & {HOSTILE}", "number": "S-2", "url": "https://history.example.org/check/S-2/"}
    mail.write(key="k", to="marit@example.org", template="release_copy", context=context)
    run_jobs()
    return server.received[0]


def test_without_an_address_of_the_library_there_is_nowhere_to_answer_to():
    assert "Reply-To" not in email_to(to="marit@example.org", subject="s", text="t").message()


def body(received, kind: str) -> str:
    return received.get_body(preferencelist=(kind,)).get_content()


def test_it_comes_as_text_and_as_html(received):
    assert received.get_content_type() == "multipart/alternative"
    assert [part.get_content_type() for part in received.iter_parts()] == ["text/plain", "text/html"]


def test_the_html_holds_the_same_words_as_the_text(received):
    text = " ".join(body(received, "plain").split())
    assert text.startswith("Dear Marit & ")
    assert " ".join(Page(body(received, "html")).text.split()).endswith(text)


def test_what_was_typed_stays_text_in_the_html(received):
    page = Page(body(received, "html"))
    assert not page.all("img")
    assert not page.all("script")


def test_the_address_is_a_link_and_nothing_is_loaded_from_elsewhere(received):
    html = body(received, "html")
    assert Page(html).all("a", href="https://history.example.org/check/S-2/")
    assert not re.search(r"\b(src|background|srcset)=|url\(|@import|<link", html.replace("&lt;img src=x", ""))


def test_its_headers_say_whose_it_is_and_that_a_program_wrote_it(received):
    """RFC 3834, section 5; RFC 5322, section 3.6.4."""
    assert received["Auto-Submitted"] == "auto-generated"
    assert parseaddr(str(received["Reply-To"]))[1] == "history@alderferry.example.org"
    assert str(received["Message-ID"]).endswith("@alderferry.example.org>")


def test_a_line_that_is_an_address_becomes_a_link_and_an_address_in_a_sentence_does_not():
    lines = paragraphs_of("See https://elsewhere.example.org now.\nhttps://history.example.org/a?b=1&c=2\n\nBye")
    assert [[line.is_address for line in block] for block in lines] == [[False, True], [False]]


def test_no_script_becomes_a_link():
    assert not paragraphs_of("javascript:alert(1)")[0][0].is_address


def test_each_of_two_mails_has_an_id_of_its_own():
    first, second = (email_to(to="a@example.org", subject="s", text="t") for _ in range(2))
    assert first.extra_headers["Message-ID"] != second.extra_headers["Message-ID"]


def test_its_colours_are_those_of_the_site():
    wanted = set(re.findall(r"#[0-9a-f]{6}", (ROOT / "templates/mail/email.html").read_text()))
    assert wanted
    assert wanted <= set(re.findall(r"#[0-9a-f]{6}", (ROOT / "static/css/tokens.css").read_text()))


@pytest.mark.parametrize(("address", "told"), [("tobias@example.org", "choose one"), ("who@example.org", "no account")])
def test_mail_about_a_forgotten_password_looks_like_every_other(client, volunteer, address, told):
    client.post("/account/password/reset/", {"email": address})
    (sent,) = outbox.outbox
    assert told in sent.body
    ((html, media_type),) = sent.alternatives
    assert media_type == "text/html"
    assert " ".join(Page(html).text.split()).endswith(" ".join(sent.body.split()))
    assert sent.extra_headers["Auto-Submitted"] == "auto-generated"
