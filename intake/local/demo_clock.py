"""Tells the demo's year in the order in which it happened.

A chapter is a generator: it yields the moment of its next step and is then continued at that moment. Chapters of
different interviews interleave, so that events, numbers and papers stand in the order of their days.
"""

import heapq
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from datetime import datetime

from django.utils import timezone

Chapter = Iterator[datetime]
YEAR = 2026


def at(month: int, day: int, hour: int = 10, minute: int = 0) -> datetime:
    """A moment of the demo's year, in the library's own time."""
    return timezone.make_aware(datetime(YEAR, month, day, hour, minute))  # noqa: DTZ001  made aware at once


@contextmanager
def story_time(moment: datetime) -> Iterator[None]:
    """Everything that asks Django for the time is told `moment`, and the seconds that have passed since.

    The demo loads in a process of its own, in which nobody else asks.
    """
    real, began = timezone.now, timezone.now()
    timezone.now = lambda: moment + (real() - began)
    try:
        yield
    finally:
        timezone.now = real


def tell(chapters: Iterable[Chapter], *, after_each_step: Callable[[], None]) -> None:
    """Run all chapters to their ends, always the one whose next step comes first."""
    waiting = [(moment, number, chapter) for number, chapter in enumerate(chapters) for moment in _next(chapter)]
    heapq.heapify(waiting)
    while waiting:
        moment, number, chapter = heapq.heappop(waiting)
        with story_time(moment):
            following = _next(chapter)
            after_each_step()
        for later in following:
            heapq.heappush(waiting, (later, number, chapter))


def _next(chapter: Chapter) -> list[datetime]:
    """The moment of a chapter's next step; none when it has ended."""
    return [moment for moment in [next(chapter, None)] if moment]
