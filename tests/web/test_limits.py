"""A limit on guessing counts misses, by the address of whoever asks."""

from unittest.mock import patch

import pytest
from django.core.cache import cache
from django.test import RequestFactory

from intake.errors import Refused
from intake.web import limits


def request_from(address: str, **headers: str):
    return RequestFactory().get("/", REMOTE_ADDR=address, headers=headers)


def miss(request, times: int = limits.MISSES) -> None:
    for _ in range(times):
        limits.count_miss(request, "a-secret")


def test_so_many_misses_end_the_guessing_from_one_address_alone() -> None:
    miss(request_from("192.0.2.1"))
    with pytest.raises(Refused, match="too many tries"):
        limits.refuse_after_misses(request_from("192.0.2.1"), "a-secret")
    limits.refuse_after_misses(request_from("192.0.2.2"), "a-secret")
    limits.refuse_after_misses(request_from("192.0.2.1"), "another-secret")


def test_asking_is_no_miss() -> None:
    for _ in range(100):
        limits.refuse_after_misses(request_from("192.0.2.1"), "a-secret")


def test_a_count_that_runs_out_begins_anew() -> None:
    with patch.object(cache, "add", return_value=False):  # it was there, and is gone a moment later
        limits.count_miss(request_from("192.0.2.1"), "a-secret")
    assert cache.get(limits._key(request_from("192.0.2.1"), "a-secret")) == 1


def test_a_front_servers_address_is_not_the_visitors(settings) -> None:
    settings.ALLAUTH_TRUSTED_PROXY_COUNT = 1
    visitor = request_from("192.0.2.9", **{"X-Forwarded-For": "203.0.113.5, 198.51.100.7"})
    assert limits.address_of(visitor) == "198.51.100.7"  # what the front server saw, not what was sent to it


def test_without_a_front_server_nobody_names_an_address_of_their_own() -> None:
    assert limits.address_of(request_from("192.0.2.9", **{"X-Forwarded-For": "203.0.113.5"})) == "192.0.2.9"
