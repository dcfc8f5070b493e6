"""Decodes on a second thread while the meters work on the first."""

import queue
import threading
from collections.abc import Iterator

import numpy as np


class _Stop:
    """Put after the last block; carries the error that ended the reading, if one did."""

    def __init__(self, error: BaseException | None = None) -> None:
        self.error = error


def read_ahead(blocks: Iterator[np.ndarray], depth: int = 4) -> Iterator[np.ndarray]:
    """Yield the same blocks, decoded on a second thread at most `depth` blocks ahead of their use."""
    waiting: queue.Queue[np.ndarray | _Stop] = queue.Queue(depth)
    abandoned = threading.Event()
    thread = threading.Thread(target=_fill, args=(blocks, waiting, abandoned), daemon=True)
    thread.start()
    try:
        while not isinstance(item := waiting.get(), _Stop):
            yield item
        if item.error is not None:
            raise item.error
    finally:
        abandoned.set()
        thread.join()


def _fill(blocks: Iterator[np.ndarray], waiting: "queue.Queue[np.ndarray | _Stop]", abandoned: threading.Event) -> None:
    stop = _Stop()
    try:
        for block in blocks:
            if not _put(waiting, block, abandoned):
                return
    except BaseException as error:  # noqa: BLE001 - raised again on the thread that measures
        stop = _Stop(error)
    _put(waiting, stop, abandoned)


def _put(waiting: "queue.Queue[np.ndarray | _Stop]", item: "np.ndarray | _Stop", abandoned: threading.Event) -> bool:
    """Wait for room; False when nobody takes blocks any more."""
    while not abandoned.is_set():
        try:
            waiting.put(item, timeout=0.2)
        except queue.Full:
            continue
        return True
    return False
