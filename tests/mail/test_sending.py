"""What becomes of a message, seen from a mail server that takes, refuses, puts off or is away."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from intake.audit.actions import Action
from intake.audit.services import story_of
from intake.errors import Refused
from intake.files import services as files
from intake.jobs import services as jobs
from intake.jobs.models import Job, JobState, Kind
from intake.jobs.policies import POLICIES
from intake.mail import services as mail
from intake.mail.models import Message, MessageState
from tests.factories import at_time, run_jobs, sha256

pytestmark = pytest.mark.django_db

TO = "marit@example.org"
# RFC 5321, section 4.2.3: 550 is a mailbox that is not there, 451 trouble for now, 554 a transaction refused.
NO_SUCH_USER = "550 5.1.1 No such user here"
NOT_NOW = "451 4.7.1 Greylisted, try again later"
REFUSED = "554 5.7.1 Message refused"


def write(to=TO, **given) -> Message:
    context = {"name": "Marit", "number": "S-2", "url": "https://history.example.org/check/S-2/"}
    message = mail.write(key=f"k-{uuid4()}", to=to, template="release_copy", context=context, **given)
    assert message is not None
    return message


def now_is(message: Message) -> Message:
    message.refresh_from_db()
    return message


def actions(message: Message) -> list[str]:
    return [event.action for event in story_of(message)]


def until_given_up() -> Job:
    """Every attempt of the policy, each when it is due."""
    moment = timezone.now()
    for _ in range(POLICIES[Kind.SEND_MESSAGE].attempts):
        with at_time(moment):
            (job,) = run_jobs(Kind.SEND_MESSAGE)
        moment = job.due_at + timedelta(seconds=1)
    return job


def test_a_message_that_is_taken_is_sent(server):
    message = write()
    (job,) = run_jobs()
    assert job.state == JobState.DONE
    assert [str(received["To"]) for received in server.received] == [TO]
    assert (now_is(message).state, message.attempts, message.last_error) == (MessageState.SENT, 1, "")
    assert message.sent_at >= message.last_tried_at


def test_a_refused_address_is_a_bounce_at_once_and_is_not_tried_again(server):
    server.answers[TO] = NO_SUCH_USER
    message = write()
    (job,) = run_jobs()
    assert job.state == JobState.DONE
    assert now_is(message).state == MessageState.BOUNCED
    assert message.last_error == f"The mail server refused the address: {NO_SUCH_USER}"
    assert message.bounced_at
    assert message.sent_at is None
    assert actions(message) == [Action.MESSAGE_BOUNCED]
    mail.send(message.pk)
    assert server.asked == [TO]


def test_a_refusal_for_now_is_tried_again_and_then_taken(server):
    server.answers[TO] = NOT_NOW
    message = write()
    (job,) = run_jobs()
    assert job.state == JobState.WAITING
    assert now_is(message).state == MessageState.WAITING
    assert message.last_error == f"The mail server refused the address for now: {NOT_NOW}"
    server.answers.clear()
    with at_time(job.due_at + timedelta(seconds=1)):
        run_jobs()
    assert (now_is(message).state, message.attempts, message.last_error) == (MessageState.SENT, 2, "")
    assert len(server.received) == 1


def test_a_job_that_gives_up_says_so_on_its_message(server):
    server.answers[TO] = NOT_NOW
    message = write()
    job = until_given_up()
    assert job.state == JobState.FAILED
    assert (now_is(message).state, message.attempts) == (MessageState.FAILED, job.attempts)
    assert NOT_NOW in message.last_error
    assert actions(message) == [Action.MESSAGE_GIVEN_UP]
    assert list(mail.troubled()) == [message]


def test_a_server_that_is_away_is_told_in_plain_words(no_server):
    message = write()
    (job,) = run_jobs()
    assert job.state == JobState.WAITING
    assert now_is(message).last_error.startswith("Nothing answers at this port of the mail server: ")


def test_a_refused_message_is_given_up_at_once(server):
    server.answers["DATA"] = REFUSED
    message = write()
    (job,) = run_jobs()
    assert (job.state, job.attempts) == (JobState.FAILED, 1)
    assert now_is(message).state == MessageState.FAILED
    assert message.last_error == f"The mail server refused the message: {REFUSED}"


def test_a_worker_that_dies_at_every_attempt_leaves_a_message_that_says_so(server):
    message = write()
    policy = POLICIES[Kind.SEND_MESSAGE]
    Job.objects.update(attempts=policy.attempts - 1)
    job = jobs.claim(Job.objects.get().pk)
    assert job is not None
    with at_time(job.lease_until + timedelta(seconds=1)):
        jobs.sweep()
    assert now_is(message).state == MessageState.FAILED
    assert message.last_error == "The site could not send it: The worker stopped at every attempt."


def test_an_attempt_that_was_taken_over_does_not_say_that_the_message_failed(server):
    """The fence of the job holds for its message too."""
    message = write()
    lost = jobs.claim(Job.objects.get().pk)
    assert lost is not None
    Job.objects.update(attempts=2)
    jobs._give_up(lost, "too late")
    assert now_is(message).state == MessageState.WAITING


# Sending again


def test_a_message_that_was_not_sent_is_sent_again(server, archivist):
    server.answers["DATA"] = REFUSED
    message = write()
    run_jobs()
    server.answers.clear()
    mail.send_again(message.pk, actor=archivist)
    assert now_is(message).state == MessageState.WAITING
    run_jobs()
    assert (now_is(message).state, message.attempts) == (MessageState.SENT, 2)
    assert actions(message)[-1] == Action.MESSAGE_SENT_AGAIN


def test_the_jobs_own_page_sends_it_again_too(server):
    server.answers["DATA"] = REFUSED
    message = write()
    (job,) = run_jobs()
    server.answers.clear()
    jobs.retry_now(job.pk)
    run_jobs()
    assert now_is(message).state == MessageState.SENT


def test_a_corrected_address_gets_the_same_message(server, archivist):
    server.answers[TO] = NO_SUCH_USER
    message = write()
    run_jobs()
    mail.correct_address(message.pk, to=" Marit.Oskarsen@example.org ", actor=archivist)
    run_jobs()
    (received,) = server.received
    assert str(received["To"]) == "marit.oskarsen@example.org"
    assert now_is(message).state == MessageState.SENT
    event = story_of(message).last()
    assert event.names.names == {"before": TO, "after": "marit.oskarsen@example.org"}


def test_the_same_address_is_no_correction(server, archivist):
    server.answers[TO] = NO_SUCH_USER
    message = write()
    run_jobs()
    with pytest.raises(Refused, match="That is the address"):
        mail.correct_address(message.pk, to="Marit@example.org", actor=archivist)


def test_a_message_that_waits_is_not_put_in_line_twice(server, archivist):
    message = write()
    with pytest.raises(Refused, match="waiting to be sent"):
        mail.send_again(message.pk, actor=archivist)
    assert Job.objects.count() == 1


def test_a_secret_that_was_sent_is_not_sent_again(server, archivist):
    message = write(holds_secret=True)
    run_jobs()
    assert now_is(message).text == ""
    with pytest.raises(Refused, match="Invite them anew"):
        mail.send_again(message.pk, actor=archivist)


def test_a_secret_that_bounced_goes_from_the_row(server, archivist):
    server.answers[TO] = NO_SUCH_USER
    message = write(holds_secret=True)
    run_jobs()
    assert (now_is(message).state, message.text) == (MessageState.BOUNCED, "")
    with pytest.raises(Refused, match="Invite them anew"):
        mail.send_again(message.pk, actor=archivist)


def test_a_secret_that_was_not_sent_may_be_tried_again_but_only_at_its_own_address(server, archivist):
    server.answers["DATA"] = REFUSED
    message = write(holds_secret=True)
    run_jobs()
    assert now_is(message).text
    with pytest.raises(Refused, match="link for one person"):
        mail.correct_address(message.pk, to="else@example.org", actor=archivist)
    server.answers.clear()
    mail.send_again(message.pk, actor=archivist)
    run_jobs()
    assert (now_is(message).state, message.text) == (MessageState.SENT, "")


# What staff note


def test_a_mail_that_came_back_later_is_noted_by_hand(server, archivist):
    message = write()
    run_jobs()
    mail.note_bounce(message.pk, told="552 5.2.2\n  Mailbox full", actor=archivist)
    assert (now_is(message).state, message.last_error) == (MessageState.BOUNCED, "552 5.2.2 Mailbox full")
    event = story_of(message).get()
    assert (event.action, event.actor) == (Action.MESSAGE_BOUNCED, archivist)


def test_only_what_was_sent_can_come_back(server, archivist):
    message = write()
    with pytest.raises(Refused, match="Only a message that was sent"):
        mail.note_bounce(message.pk, told="x", actor=archivist)


def test_what_was_dealt_with_is_not_counted_any_more_until_it_fails_again(server, archivist):
    server.answers[TO] = NO_SUCH_USER
    message = write()
    run_jobs()
    mail.settle(message.pk, actor=archivist)
    assert not mail.troubled().exists()
    with pytest.raises(Refused, match="nothing to deal with"):
        mail.settle(message.pk, actor=archivist)
    mail.send_again(message.pk, actor=archivist)
    run_jobs()
    assert list(mail.troubled()) == [message]


# What the database holds to


@pytest.mark.parametrize(
    ("changes", "rule"),
    [
        ({"state": "lost"}, "message_has_a_known_state"),
        ({"state": "sent"}, "sent_message_says_when_it_was_sent"),
        ({"state": "bounced"}, "bounced_message_says_when"),
        ({"state": "sent", "sent_at": timezone.now(), "holds_secret": True}, "secret_goes_once_it_was_sent"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_the_database_refuses_a_message_that_cannot_be(changes, rule):
    message = write()
    with pytest.raises(IntegrityError, match=rule), transaction.atomic():
        Message.objects.filter(pk=message.pk).update(**changes)


def test_attachments_arrive_whole(server):
    content = bytes(range(256)) * 2000
    paper = files.keep_bytes(content, file_id=uuid4(), name="Quittung über Öl.pdf", media_type="application/pdf")
    write(attachments=[paper])
    run_jobs()
    (attached,) = server.received[0].iter_attachments()
    assert attached.get_filename() == "Quittung über Öl.pdf"
    assert attached.get_content_type() == "application/pdf"
    assert sha256(attached.get_content()) == paper.sha256
