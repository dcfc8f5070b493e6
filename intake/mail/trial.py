"""Send one message now, while somebody waits, and say in words how it went."""

import smtplib

from intake.accounts.models import User
from intake.errors import Refused
from intake.library import services as libraries
from intake.mail.answers import in_plain_words
from intake.mail.emails import email_to


def send_to(user: User) -> str:
    """A test message to the person who asks; returns what to tell them. Raises Refused with the reason in words."""
    name = libraries.current().name
    text = f"Dear {user.name},\n\nthis is the test message that you asked for. Mail from {name} arrives.\n"
    try:
        email_to(to=user.email, subject=f"Test message from {name}", text=text).send()
    except (OSError, smtplib.SMTPException) as error:  # ssl, socket and timeout errors are OSErrors
        raise Refused(in_plain_words(error)) from error
    if not libraries.mail_leaves():
        return "The message was written into the mail folder on this computer. It has not been sent to anybody."
    return f"The mail server has taken the message to {user.email}. Look whether it arrives, also among unwanted mail."
