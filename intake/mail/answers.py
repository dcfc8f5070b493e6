"""What a mail server's answer means: worth another try, refused for good, or an address that does not exist."""

from smtplib import (
    SMTPAuthenticationError,
    SMTPDataError,
    SMTPException,
    SMTPRecipientsRefused,
    SMTPResponseException,
    SMTPSenderRefused,
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
    if isinstance(error, SMTPException):
        return f"The mail server broke off: {_one_line(str(error))}"
    # Time-outs, unknown host names and failed TLS are all OSError; a missing attachment is told apart by its class.
    if isinstance(error, OSError) and not isinstance(error, FileNotFoundError):
        return f"The mail server could not be reached: {_one_line(str(error))}"
    return f"The message could not be prepared: {_one_line(f'{type(error).__name__}: {error}')}"


def _what_was_refused(error: SMTPResponseException) -> str:
    if isinstance(error, SMTPAuthenticationError):
        return "The mail server did not accept the site's own sign-in"
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
