"""What a mail server's answer means: worth another try, refused for good, or an address that does not exist."""

import socket
import ssl
from smtplib import (
    SMTPAuthenticationError,
    SMTPDataError,
    SMTPException,
    SMTPNotSupportedError,
    SMTPRecipientsRefused,
    SMTPResponseException,
    SMTPSenderRefused,
    SMTPServerDisconnected,
)

# RFC 5321, section 4.2.1: answers of 500 and above are final, those from 400 to 499 may go well another time.
FINAL = 500
LONGEST = 500


class NotTaken(Exception):
    """The mail server refused the message itself for good: trying again would end in the same way."""


def is_refused_address(error: Exception) -> bool:
    """Whether the server will never take mail for this address. A refusal for now (4xx) is none."""
    return isinstance(error, SMTPRecipientsRefused) and all(code >= FINAL for code, _ in error.recipients.values())


def is_refused_message(error: Exception) -> bool:
    """Whether the server will never take this message. A wrong sign-in is ours to mend, so it is tried again."""
    return isinstance(error, SMTPDataError) and error.smtp_code >= FINAL


def in_plain_words(error: Exception) -> str:
    """What went wrong, for staff; the server's own answer stands behind it."""
    if isinstance(error, SMTPRecipientsRefused):
        answers = " ".join(_answer(code, told) for code, told in error.recipients.values())
        for_now = "" if is_refused_address(error) else " for now"
        return f"The mail server refused the address{for_now}: {answers}"
    if isinstance(error, SMTPResponseException):
        return f"{_what_was_refused(error)}: {_answer(error.smtp_code, error.smtp_error)}"
    for kind, words in _ON_THE_WAY:
        if isinstance(error, kind):
            return f"{words}: {_one_line(str(error))}"
    return f"The message could not be prepared: {_one_line(f'{type(error).__name__}: {error}')}"


# Looked through in this order: several of the kinds are OSErrors, and a missing attachment is one too.
_ON_THE_WAY: tuple[tuple[type[Exception], str], ...] = (
    (FileNotFoundError, "The message could not be prepared"),
    (SMTPNotSupportedError, "The mail server does not offer what was chosen for it: try the other protection"),
    (SMTPServerDisconnected, "The mail server closed the connection: its port or the protection may be another"),
    (SMTPException, "The mail server broke off"),
    (ssl.SSLError, "The protected connection could not be made: the port and the kind of protection do not fit"),
    (socket.gaierror, "There is no mail server of this name, or this computer is not on the Internet"),
    (ConnectionRefusedError, "Nothing answers at this port of the mail server"),
    (TimeoutError, "The mail server does not answer: a firewall may stand in between, or its port is another"),
    (OSError, "The mail server could not be reached"),
)


def _what_was_refused(error: SMTPResponseException) -> str:
    if isinstance(error, SMTPAuthenticationError):
        return "The mail server does not accept the user name and password that the site gives"
    if isinstance(error, SMTPSenderRefused):
        return "The mail server refused the library's own address as sender"
    if isinstance(error, SMTPDataError):
        return "The mail server refused the message"
    return "The mail server did not accept the connection"


def _answer(code: int, told: bytes | str) -> str:
    words = told.decode("utf-8", "replace") if isinstance(told, bytes) else told
    return _one_line(f"{code} {words}")


def _one_line(words: str) -> str:
    return " ".join(words.split())[:LONGEST]
