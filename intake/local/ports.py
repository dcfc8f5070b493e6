"""A free port on this computer alone."""

import socket

ADDRESS = "127.0.0.1"
TRIED = 100


class NoPortFree(Exception):
    """Every port that was tried is taken."""


def free_port(wanted: int) -> int:
    """The port asked for, or the next free one after it. Raises NoPortFree."""
    for port in range(wanted, min(wanted + TRIED, 65_536)):
        if is_free(port):
            return port
    raise NoPortFree(f"Ports {wanted} to {wanted + TRIED - 1} are all taken. Ask for another one with PORT=...")


def is_free(port: int) -> bool:
    """Whether the web server could listen there now."""
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as probe:
        # As the web server does it: a port whose last connections are still closing is free.
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((ADDRESS, port))
        except OSError:
            return False
    return True
