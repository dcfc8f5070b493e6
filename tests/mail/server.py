"""A real mail server on this machine that takes, refuses or puts off what it is told to."""

import socket
from email import message_from_bytes, policy
from email.message import EmailMessage

from aiosmtpd.controller import Controller

TAKEN = "250 OK"


class MailServer:
    """`answers` holds an answer for an address, or for "DATA"; everything else is taken into `received`."""

    def __init__(self) -> None:
        self.answers: dict[str, str] = {}
        self.received: list[EmailMessage] = []
        self.asked: list[str] = []

    async def handle_RCPT(self, server, session, envelope, address, options) -> str:  # noqa: N802  aiosmtpd's own name
        self.asked.append(address)
        answer = self.answers.get(address, TAKEN)
        if answer == TAKEN:
            envelope.rcpt_tos.append(address)
        return answer

    async def handle_DATA(self, server, session, envelope) -> str:  # noqa: N802  aiosmtpd's own name
        answer = self.answers.get("DATA", TAKEN)
        if answer == TAKEN:
            self.received.append(message_from_bytes(envelope.content, _class=EmailMessage, policy=policy.default))
        return answer


def start(server: MailServer) -> Controller:
    """The server on a free port of 127.0.0.1, in a thread of its own."""
    controller = Controller(server, hostname="127.0.0.1", port=a_free_port())
    controller.start()
    return controller


def a_free_port() -> int:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return found.getsockname()[1]
