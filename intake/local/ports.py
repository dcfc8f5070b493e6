"""A free port on this computer."""

import socket

ADDRESS = "127.0.0.1"
EVERYWHERE = "0.0.0.0"  # noqa: S104  asked for by HTTPS=1 alone
TRIED = 100


class NoPortFree(Exception):
    """Every port that was tried is taken."""


def free_port(wanted: int, address: str = ADDRESS) -> int:
    """The port asked for, or the next free one after it. Raises NoPortFree."""
    for port in range(wanted, min(wanted + TRIED, 65_536)):
        if is_free(port, address):
            return port
    raise NoPortFree(f"Ports {wanted} to {wanted + TRIED - 1} are all taken. Ask for another one with PORT=...")


def is_free(port: int, address: str = ADDRESS) -> bool:
    """Whether the web server could listen there now."""
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as probe:
        # As the web server does it: a port whose last connections are still closing is free.
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((address, port))
        except OSError:
            return False
    return True
