"""Start several pieces of work at the same moment, each in a thread with a database connection of its own."""

from collections.abc import Callable
from threading import Barrier, Thread
from typing import Any

from django.db import connection

WAIT = 30  # seconds; far more than anything here needs


def at_once(*works: Callable[[], Any]) -> list[Any]:
    """What each gave back, or the exception that it raised, in the order in which they were named."""
    ended: list[Any] = [None] * len(works)
    start = Barrier(len(works))

    def run(place: int, work: Callable[[], Any]) -> None:
        try:
            start.wait(WAIT)
            ended[place] = work()
        except Exception as error:  # noqa: BLE001  handed to the test, which says what it expects
            ended[place] = error
        finally:
            connection.close()

    threads = [Thread(target=run, args=pair) for pair in enumerate(works)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(WAIT)
        assert not thread.is_alive(), "the threads wait for each other for ever"
    return ended


def refusals(ended: list[Any], kind: type[Exception]) -> list[Exception]:
    """The refusals among the ends. Anything else that was raised fails the test with its own traceback."""
    for end in ended:
        if isinstance(end, Exception) and not isinstance(end, kind):
            raise end
    return [end for end in ended if isinstance(end, kind)]
