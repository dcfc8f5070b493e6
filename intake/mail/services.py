"""Write a message in the transaction of its cause; send it later, by a job; know what became of it."""

from collections.abc import Sequence
from typing import Any

from django.core.mail import EmailMultiAlternatives
from django.db import models, transaction
from django.db.models import F, QuerySet
from django.template.loader import render_to_string
from django.utils import timezone

from intake.accounts.models import User
from intake.audit.actions import Action
from intake.audit.models import Outcome
from intake.audit.services import record, thread_of
from intake.errors import Refused
from intake.files import serving
from intake.files.models import StoredFile
from intake.jobs.models import Kind
from intake.jobs.services import enqueue
from intake.library import services as libraries
from intake.mail.answers import NotTaken, in_plain_words, is_refused_address, is_refused_message
from intake.mail.emails import email_to
from intake.mail.models import Message, MessageState


def write(
    *,
    key: str,
    to: str,
    template: str,
    context: dict[str, Any],
    thread: models.Model | None = None,
    attachments: Sequence[StoredFile] = (),
    holds_secret: bool = False,
) -> Message | None:
    """Write the message `emails/<template>.txt`, whose first line is the subject, in the story of `thread`.

    A person without an address gets none. With `holds_secret` the text goes once it has been sent: a link for one
    person must not lie in the database.
    """
    if not to:
        return None
    library = libraries.current()
    text = render_to_string(f"emails/{template}.txt", {"library": library.name, "room": library.room, **context})
    subject, _, body = text.strip().partition("\n")
    message, new = Message.objects.get_or_create(
        key=key,
        defaults={
            "thread": thread_of(thread) if thread else "",
            "to": to,
            "subject": " ".join(subject.split())[:200],
            "text": body.strip() + "\n",
            "holds_secret": holds_secret,
        },
    )
    if new:
        message.attachments.set(attachments)
        enqueue(Kind.SEND_MESSAGE, message.pk)
    return message


def send(message_id: int) -> None:
    """Try to send a message, unless it was sent or has come back.

    A refused address is a bounce at once. Every other failure is told on the row and left to the job, which tries
    again or gives up. A worker that dies between the server's answer and our note of it sends twice: rare, and better
    than never.
    """
    message = _begin_attempt(message_id)
    if message is None:
        return
    try:
        _email_of(message).send()
    except Exception as error:
        told = in_plain_words(error)
        if is_refused_address(error):
            _bounce(message.pk, told=told, actor=None)
            return
        Message.objects.filter(pk=message.pk).update(last_error=told)
        if is_refused_message(error):
            raise NotTaken(told) from error
        raise
    _mark_sent(message)


def give_up(message_id: int, told: str) -> None:
    """The job has given up, in whose transaction this is written. What the latest attempt met is told, if known."""
    message = Message.objects.select_for_update().filter(pk=message_id, state=MessageState.WAITING).first()
    if message is None:
        return
    message.state = MessageState.FAILED
    message.last_error = message.last_error or f"The site could not send it: {told}"
    message.save(update_fields=["state", "last_error"])
    record(
        actor=None,
        action=Action.MESSAGE_GIVEN_UP,
        subject=message,
        outcome=Outcome.FAILURE,
        names={"told": message.last_error},
        attempts=message.attempts,
    )


@transaction.atomic
def send_again(message_id: int, *, actor: User) -> Message:
    """Put the same message in line once more."""
    message = _open_to_another_try(message_id)
    record(actor=actor, action=Action.MESSAGE_SENT_AGAIN, subject=message, names={"address": message.to})
    return _put_in_line(message)


@transaction.atomic
def correct_address(message_id: int, *, to: str, actor: User) -> Message:
    """Send the same message to the right address. A link for one person is not sent on to another address."""
    message = _open_to_another_try(message_id)
    if message.holds_secret:
        raise Refused("This message holds a link for one person. Invite them anew at the right address.")
    to = to.strip().lower()
    if to == message.to.lower():
        raise Refused("That is the address it was sent to. To try it once more, choose “Send again”.")
    record(
        actor=actor,
        action=Action.MESSAGE_READDRESSED,
        subject=message,
        names={"before": message.to, "after": to},
    )
    message.to = to
    return _put_in_line(message)


@transaction.atomic
def note_bounce(message_id: int, *, told: str, actor: User) -> Message:
    """Staff found a message in the library's mailbox that came back."""
    message = Message.objects.select_for_update().get(pk=message_id)
    if message.state != MessageState.SENT:
        raise Refused("Only a message that was sent can come back.")
    return _bounce(message_id, told=" ".join(told.split()), actor=actor)


@transaction.atomic
def settle(message_id: int, *, actor: User) -> Message:
    """Staff have dealt with a message that did not arrive, by telephone or by post: it is no longer counted."""
    message = Message.objects.select_for_update().get(pk=message_id)
    if not message.is_troubled:
        raise Refused("There is nothing to deal with: this message did not fail or come back.")
    message.settled_at = timezone.now()
    message.save(update_fields=["settled_at"])
    record(actor=actor, action=Action.MESSAGE_SETTLED, subject=message)
    return message


def troubled(thread: models.Model | None = None) -> QuerySet[Message]:
    """The messages that did not reach their people and that nobody has dealt with; of one thing's story, if named."""
    messages = Message.objects.filter(state__in=[MessageState.FAILED, MessageState.BOUNCED], settled_at=None)
    return messages.filter(thread=thread_of(thread)) if thread else messages


def _begin_attempt(message_id: int) -> Message | None:
    """Count the attempt; None if the message was sent or has come back."""
    message = Message.objects.get(pk=message_id)
    begun = (
        Message.objects.filter(pk=message_id)
        .exclude(state__in=[MessageState.SENT, MessageState.BOUNCED])
        .update(state=MessageState.WAITING, attempts=F("attempts") + 1, last_tried_at=timezone.now(), last_error="")
    )
    return message if begun else None


def _email_of(message: Message) -> EmailMultiAlternatives:
    email = email_to(to=message.to, subject=message.subject, text=message.text)
    for file in message.attachments.all():
        with serving.open_copy(file) as copy:
            email.attach(file.name, copy.read(), file.media_type)
    return email


def _mark_sent(message: Message) -> None:
    kept = "" if message.holds_secret else message.text
    Message.objects.filter(pk=message.pk).update(state=MessageState.SENT, sent_at=timezone.now(), text=kept)


@transaction.atomic
def _bounce(message_id: int, *, told: str, actor: User | None) -> Message:
    """SECURITY: a link for one person that did not reach them goes from the row; they are invited anew."""
    message = Message.objects.select_for_update().get(pk=message_id)
    message.state, message.bounced_at, message.last_error = MessageState.BOUNCED, timezone.now(), told
    message.text = "" if message.holds_secret else message.text
    message.save(update_fields=["state", "bounced_at", "last_error", "text"])
    record(
        actor=actor,
        action=Action.MESSAGE_BOUNCED,
        subject=message,
        outcome=Outcome.FAILURE,
        names={"address": message.to, "told": told},
    )
    return message


def _open_to_another_try(message_id: int) -> Message:
    """The message, locked, if it may be sent again. Raises Refused."""
    message = Message.objects.select_for_update().get(pk=message_id)
    if message.is_waiting:
        raise Refused("This message is waiting to be sent; it is tried by itself.")
    if message.has_lost_its_link:
        raise Refused(
            "The link in this message works for one person only and is not kept here, so it cannot be sent again. "
            "Invite them anew."
        )
    return message


def _put_in_line(message: Message) -> Message:
    message.state, message.last_error, message.settled_at = MessageState.WAITING, "", None
    message.save(update_fields=["to", "state", "last_error", "settled_at"])
    enqueue(Kind.SEND_MESSAGE, message.pk)
    return message
