"""The mail that the demo "sent": files in its folder, read as any mail program would read them."""

import email
import email.policy
from dataclasses import dataclass
from datetime import datetime
from email.message import EmailMessage
from email.utils import parsedate_to_datetime
from pathlib import Path

from django.conf import settings

from intake.mail.emails import Line, paragraphs_of

# How Django's file backend parts several messages in one file.
PARTING = b"\n" + b"-" * 79 + b"\n"


@dataclass(frozen=True)
class Attachment:
    """A file that came with a mail; `number` counts from 0 in its mail."""

    number: int
    name: str
    media_type: str
    content: bytes


@dataclass(frozen=True)
class SentMail:
    """One mail as it was handed over: `name` is its file, `number` its place in that file."""

    name: str
    number: int
    to: str
    subject: str
    at: datetime
    paragraphs: list[list[Line]]
    html: str
    attachments: list[Attachment]


def files() -> list[Path]:
    """The files of sent mail, the newest first."""
    folder = Path(settings.EMAIL_FILE_PATH)
    return sorted(folder.glob("*.log"), key=lambda path: path.stat().st_mtime_ns, reverse=True)


def mails_in(path: Path) -> list[SentMail]:
    return [_read(path.stem, number, content) for number, content in enumerate(_parted(path))]


def find(name: str, number: int) -> SentMail | None:
    """One mail by its file and its place there. Only files that `files` lists are ever opened."""
    found = [path for path in files() if path.stem == name]
    return next((mail for path in found for mail in mails_in(path) if mail.number == number), None)


def _parted(path: Path) -> list[bytes]:
    return [content for content in path.read_bytes().split(PARTING) if content.strip()]


def _read(name: str, number: int, content: bytes) -> SentMail:
    message = email.message_from_bytes(content, _class=EmailMessage, policy=email.policy.default)
    return SentMail(
        name=name,
        number=number,
        to=str(message["To"]),
        subject=str(message["Subject"]),
        at=parsedate_to_datetime(str(message["Date"])),
        paragraphs=paragraphs_of(_body(message, "plain")),
        html=_body(message, "html"),
        attachments=[_attachment(place, part) for place, part in enumerate(message.iter_attachments())],
    )


def _body(message: EmailMessage, kind: str) -> str:
    part = message.get_body(preferencelist=(kind,))
    return str(part.get_content()) if part else ""


def _attachment(number: int, part: EmailMessage) -> Attachment:
    content = part.get_payload(decode=True)
    assert isinstance(content, bytes), "an attachment of ours is a file"
    return Attachment(number, part.get_filename() or "attachment", part.get_content_type(), content)
