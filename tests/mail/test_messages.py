"""Messages: rows written with their cause, sent once by a job."""

from smtplib import SMTPServerDisconnected
from uuid import uuid4

import pytest
from django.core import mail as outbox
from django.core.mail.backends.locmem import EmailBackend
from django.db import transaction

from intake.files import services as files
from intake.jobs.models import Job, JobState, Kind
from intake.mail import services as mail
from intake.mail.models import Message, MessageState
from tests.factories import describe_the_library, run_jobs

pytestmark = pytest.mark.django_db


def write(key="receipt-1", to="marit@example.org", number="R-2", attachments=()):
    context = {"name": "Marit & Aurel", "number": number, "url": "https://history.example.org/check/R-2/"}
    return mail.write(key=key, to=to, template="release_copy", context=context, attachments=attachments)


def test_a_message_is_written_with_its_subject_apart(coordinator):
    describe_the_library(coordinator)
    message = write()
    assert message.subject == "Your copy of the release you signed"
    assert message.text.startswith("Dear Marit & Aurel,\n")
    assert "Alder Ferry Public Library" in message.text
    assert message.state == MessageState.WAITING


def test_the_same_message_is_written_once():
    assert write() == write(number="R-3")
    assert Message.objects.count() == 1
    assert Job.objects.filter(kind=Kind.SEND_MESSAGE).count() == 1


def test_a_person_without_an_address_gets_none():
    assert write(to="") is None
    assert not Message.objects.exists()


def test_a_message_goes_with_its_cause_when_the_transaction_fails():
    def a_change_that_fails():
        with transaction.atomic():
            write()
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        a_change_that_fails()
    assert not Message.objects.exists()


def test_a_written_message_is_sent_by_a_job(mailoutbox, coordinator):
    describe_the_library(coordinator)
    message = write()
    assert mailoutbox == []
    (job,) = run_jobs()
    assert job.state == JobState.DONE
    (sent,) = mailoutbox
    assert (sent.to, sent.subject, sent.body) == (["marit@example.org"], message.subject, message.text)
    assert sent.from_email == "Alder Ferry Public Library <history@alderferry.example.org>"
    message.refresh_from_db()
    assert message.state == MessageState.SENT
    assert message.sent_at


def test_a_message_is_sent_once(mailoutbox):
    message = write()
    run_jobs()
    mail.send(message.pk)
    assert len(mailoutbox) == 1


def test_papers_come_with_the_message(mailoutbox):
    paper = files.keep_bytes(b"%PDF-1.7", file_id=uuid4(), name="release-S-2.pdf", media_type="application/pdf")
    write(attachments=[paper])
    run_jobs()
    assert mailoutbox[0].attachments == [("release-S-2.pdf", b"%PDF-1.7", "application/pdf")]


class Unreachable(EmailBackend):
    def send_messages(self, messages):
        raise SMTPServerDisconnected("please run connect() first")


def test_a_mail_server_that_is_away_is_tried_again(settings):
    settings.EMAIL_BACKEND = f"{__name__}.Unreachable"
    message = write()
    (job,) = run_jobs()
    assert job.state == JobState.WAITING
    message.refresh_from_db()
    assert message.state == MessageState.WAITING
    assert not getattr(outbox, "outbox", [])


def test_a_subject_stays_on_one_line():
    """RFC 5322, section 2.2: a line break in a header would begin another header."""
    message = mail.write(
        key="k",
        to="marit@example.org",
        template="sent_back",
        context={"interview": {"title": "First line\r\nBcc: everybody@example.org"}},
    )
    assert "\n" not in message.subject
    assert "\r" not in message.subject
