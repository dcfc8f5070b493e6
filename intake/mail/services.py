"""Write a message in the transaction of its cause; send it later, by a job."""

from collections.abc import Sequence
from typing import Any

from django.core.mail import EmailMessage
from django.template.loader import render_to_string
from django.utils import timezone

from intake.files import storage
from intake.files.models import StoredFile
from intake.jobs.models import Kind
from intake.jobs.services import enqueue
from intake.library import services as libraries
from intake.mail.models import Message, MessageState


def write(
    *,
    key: str,
    to: str,
    template: str,
    context: dict[str, Any],
    attachments: Sequence[StoredFile] = (),
    holds_secret: bool = False,
) -> Message | None:
    """Write the message `emails/<template>.txt`, whose first line is the subject.

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
    """Send a message unless it was sent before."""
    message = Message.objects.get(pk=message_id)
    if message.state == MessageState.SENT:
        return
    email = EmailMessage(message.subject, message.text, libraries.sender(), [message.to])
    for file in message.attachments.all():
        with storage.open_copy("primary", file.key) as copy:
            email.attach(file.name, copy.read(), file.media_type)
    email.send()
    message.state, message.sent_at = MessageState.SENT, timezone.now()
    message.text = "" if message.holds_secret else message.text
    message.save(update_fields=["state", "sent_at", "text"])
