"""A real, small mail server on this computer, as far as handing a message over needs one (RFC 5321, RFC 4954)."""

import base64
import socketserver
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field


@dataclass
class PostOffice:
    """What came in. `accounts` may sign in; without any, nobody has to."""

    port: int = 0
    accounts: dict[str, str] = field(default_factory=dict)
    taken: list[str] = field(default_factory=list)


@contextmanager
def a_post_office(**accounts: str) -> Iterator[PostOffice]:
    office = PostOffice(accounts=accounts)

    class Counter(socketserver.StreamRequestHandler):
        def handle(self) -> None:
            self.say("220 post office")
            signed_in = not office.accounts
            while line := self.rfile.readline().decode().strip():
                word = line.upper()
                if word.startswith("EHLO"):
                    self.say("250-post office", "250 AUTH PLAIN")
                elif word.startswith("AUTH PLAIN "):
                    _, user, password = base64.b64decode(line.split()[2]).decode().split("\0")
                    signed_in = office.accounts.get(user) == password
                    self.say("235 welcome" if signed_in else "535 5.7.8 wrong user or password")
                elif word.startswith("MAIL") and not signed_in:
                    self.say("530 5.7.0 sign in first")
                elif word == "DATA":
                    self.say("354 go on")
                    office.taken.append(self.message())
                    self.say("250 taken")
                elif word == "QUIT":
                    self.say("221 bye")
                    return
                else:
                    self.say("250 ok")

        def say(self, *lines: str) -> None:
            self.wfile.write("".join(f"{line}\r\n" for line in lines).encode())

        def message(self) -> str:
            lines = iter(self.rfile.readline, b".\r\n")
            return b"".join(lines).decode()

    class Building(socketserver.ThreadingTCPServer):
        daemon_threads = True  # a caller who never hangs up must not keep the house open

    with Building(("127.0.0.1", 0), Counter) as server:
        office.port = server.server_address[1]
        threading.Thread(target=server.serve_forever, daemon=True).start()
        yield office
        server.shutdown()
