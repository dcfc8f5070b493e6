"""How every kernel is compiled."""

from collections.abc import Callable
from typing import Any

from numba import njit


def compiled(**options: Any) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """Compile without the interpreter lock, cached on disk where a place for the cache can be written."""

    def wrap(function: Callable[..., Any]) -> Callable[..., Any]:
        try:
            kernel: Callable[..., Any] = njit(cache=True, nogil=True, **options)(function)
        except RuntimeError:  # numba found no folder to write its cache to: compile anew in each process
            kernel = njit(nogil=True, **options)(function)
        return kernel

    return wrap


# NaN and infinity never reach these loops (source.py), so sums may be reordered for speed.
FAST = {"fastmath": {"reassoc", "nsz", "contract", "arcp", "nnan", "ninf"}}
