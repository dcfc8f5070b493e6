"""A limit on guessing: so many misses in a while from one address."""

from allauth.account.adapter import get_adapter
from django.core.cache import cache
from django.http import HttpRequest

from intake.errors import Refused

MISSES = 10
SECONDS = 15 * 60


def address_of(request: HttpRequest) -> str:
    """Where the request comes from, past as many front servers as the settings name (TRUSTED_PROXIES)."""
    return get_adapter().get_client_ip(request)


def refuse_after_misses(request: HttpRequest, what: str) -> None:
    """Raises Refused when there were too many misses at this secret from this address."""
    if cache.get(_key(request, what), 0) >= MISSES:
        raise Refused(f"That was too many tries. Wait {SECONDS // 60} minutes and try again.")


def count_miss(request: HttpRequest, what: str) -> None:
    key = _key(request, what)
    if not cache.add(key, 1, timeout=SECONDS):
        try:
            cache.incr(key)
        except ValueError:  # it ran out in between
            cache.set(key, 1, timeout=SECONDS)


def _key(request: HttpRequest, what: str) -> str:
    return f"misses:{what}:{address_of(request)}"
