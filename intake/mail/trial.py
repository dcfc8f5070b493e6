"""Send one message now, while somebody waits, and say in words how it went."""

import smtplib
import socket
import ssl

from django.core.mail import EmailMessage

from intake.accounts.models import User
from intake.errors import Refused
from intake.library import services as libraries


def send_to(user: User) -> str:
    """A test message to the person who asks; returns what to tell them. Raises Refused with the reason in words."""
    name = libraries.current().name
    text = f"Dear {user.name},\n\nthis is the test message that you asked for. Mail from {name} arrives.\n"
    try:
        EmailMessage(f"Test message from {name}", text, libraries.sender(), [user.email]).send()
    except (OSError, smtplib.SMTPException) as error:  # ssl, socket and timeout errors are OSErrors
        raise Refused(in_words(error)) from error
    if not libraries.mail_leaves():
        return "The message was written into the mail folder on this computer. It has not been sent to anybody."
    return f"The mail server has taken the message to {user.email}. Look whether it arrives, also among unwanted mail."


def in_words(error: Exception) -> str:
    """What a mail server's or a network's answer means for the person who fills the form in."""
    for kinds, words in _WORDS:
        if isinstance(error, kinds):
            return f"{words} (The answer was: {_answer(error)})"
    return f"The message could not be sent. (The answer was: {_answer(error)})"


_WORDS: tuple[tuple[type[Exception] | tuple[type[Exception], ...], str], ...] = (
    (smtplib.SMTPAuthenticationError, "The mail server does not accept this user name and password."),
    (smtplib.SMTPNotSupportedError, "The mail server does not offer what was chosen here: try the other protection."),
    (smtplib.SMTPSenderRefused, "The mail server does not send mail from this address. Give one that it knows."),
    (smtplib.SMTPRecipientsRefused, "The mail server does not take mail to your address."),
    (ssl.SSLError, "The protected connection could not be made: the port and the kind of protection do not fit."),
    (socket.gaierror, "There is no server of this name, or this computer is not on the Internet."),
    (ConnectionRefusedError, "Nothing answers at this port of the server."),
    (TimeoutError, "The server does not answer. A firewall may stand in between, or the port is another."),
    (smtplib.SMTPServerDisconnected, "The server closed the connection: the port or the protection may be another."),
)


def _answer(error: Exception) -> str:
    if isinstance(error, smtplib.SMTPResponseException):
        told = error.smtp_error.decode(errors="replace") if isinstance(error.smtp_error, bytes) else error.smtp_error
        return f"{error.smtp_code} {' '.join(str(told).split())}"
    return " ".join(str(error).split()) or type(error).__name__
