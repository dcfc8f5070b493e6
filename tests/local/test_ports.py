"""Which port the site takes."""

import socket

import pytest

from intake.local import ports


def test_the_wanted_port_is_taken_when_it_is_free() -> None:
    with socket.socket() as other:
        other.bind((ports.ADDRESS, 0))
        free = other.getsockname()[1]
    assert ports.free_port(free) == free


def test_a_taken_port_gives_the_next_free_one() -> None:
    with socket.socket() as other:
        other.bind((ports.ADDRESS, 0))
        other.listen()
        taken = other.getsockname()[1]
        assert ports.free_port(taken) > taken


def test_when_nothing_is_free_it_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ports, "TRIED", 1)
    with socket.socket() as other:
        other.bind((ports.ADDRESS, 0))
        other.listen()
        with pytest.raises(ports.NoPortFree, match="all taken"):
            ports.free_port(other.getsockname()[1])
