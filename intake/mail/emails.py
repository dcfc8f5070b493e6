"""The look of every e-mail: the text as it was written, and beside it the same words as quiet HTML."""

import re
from dataclasses import dataclass
from email.utils import make_msgid, parseaddr

from django.core.mail import EmailMultiAlternatives
from django.template.loader import render_to_string

from intake.library import services as libraries

AN_ADDRESS = re.compile(r"https?://\S+")


@dataclass(frozen=True)
class Line:
    """One line of a paragraph; `is_address` if it is nothing but the address of a page."""

    words: str
    is_address: bool


def email_to(*, to: str, subject: str, text: str) -> EmailMultiAlternatives:
    """An e-mail as everybody gets it from us. The HTML is made from the text, so that the two never differ."""
    library, sender = libraries.current(), libraries.sender()
    email = EmailMultiAlternatives(
        subject,
        text,
        sender,
        [to],
        reply_to=[library.email] if library.email else [],
        headers={
            "Message-ID": make_msgid(domain=parseaddr(sender)[1].rpartition("@")[2]),
            "Auto-Submitted": "auto-generated",  # RFC 3834, section 5: no absence notes in answer
        },
    )
    email.attach_alternative(html_of(subject=subject, text=text), "text/html")
    return email


def html_of(*, subject: str, text: str) -> str:
    """The same words as quiet HTML, which loads nothing."""
    page = {"subject": subject, "paragraphs": paragraphs_of(text), "library": libraries.current().name}
    return render_to_string("mail/email.html", page)


def paragraphs_of(text: str) -> list[list[Line]]:
    """The lines of a text in its paragraphs, which blank lines part.

    Only a line that is nothing but an address becomes a link: a name or a title in a sentence never does.
    """
    blocks = re.split(r"\n\s*\n", text.replace("\r\n", "\n").strip())
    return [[_line(words) for words in block.splitlines()] for block in blocks]


def _line(words: str) -> Line:
    return Line(words, is_address=AN_ADDRESS.fullmatch(words.strip()) is not None)
