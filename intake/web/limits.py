"""A limit on guessing: so many tries in a while from one address."""

from django.core.cache import cache
from django.http import HttpRequest

from intake.errors import Refused

TRIES = 10
SECONDS = 15 * 60


def count_try(request: HttpRequest, what: str) -> None:
    """Count one try at something secret; raises Refused when there were too many from this address."""
    key = f"tries:{what}:{request.META.get('REMOTE_ADDR')}"
    cache.add(key, 0, timeout=SECONDS)
    if cache.incr(key) > TRIES:
        raise Refused(f"That was too many tries. Wait {SECONDS // 60} minutes and try again.")
