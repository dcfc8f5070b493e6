"""Lets two threads measure the same blocks at once: decoding and the compiled loops need no interpreter lock.

More threads than two were slower: what runs between the loops waits for that lock.
"""

import queue
import threading
from collections.abc import Callable, Iterable, Sequence
from typing import Protocol

import numpy as np

DEPTH = 4  # blocks that may wait for a lane


class Taker(Protocol):
    """Anything that is given a recording block by block."""

    def add(self, block: np.ndarray) -> None:
        """Take the next block; it must not be changed, for other lanes have it too."""


class _Lane(threading.Thread):
    """Gives each block to its takers, one after the other."""

    def __init__(self, takers: Sequence[Taker]) -> None:
        super().__init__(daemon=True)
        self.blocks: queue.Queue[np.ndarray | None] = queue.Queue(DEPTH)
        self.error: BaseException | None = None
        self._takers = takers

    def run(self) -> None:
        # After a mistake blocks are still taken, or whoever gives them would wait for ever.
        while (block := self.blocks.get()) is not None:
            if self.error is None:
                self._give(block)

    def _give(self, block: np.ndarray) -> None:
        try:
            for taker in self._takers:
                taker.add(block)
        except BaseException as error:  # noqa: BLE001 - raised again on the thread that reads
            self.error = error


def run_lanes(
    blocks: Iterable[np.ndarray], here: Sequence[Taker], beside: Sequence[Taker], told: Callable[[int], None]
) -> None:  # fmt: skip
    """Give every block in order to `here`, on the thread that reads, and to `beside`, on one of its own.

    `told` hears of each block's frames. Returns when all is measured; raises what a taker or the reading raised.
    """
    lane = _Lane(beside)
    lane.start()
    try:
        for block in blocks:
            lane.blocks.put(block)
            for taker in here:
                taker.add(block)
            told(block.shape[1])
            if lane.error:
                break
    finally:
        lane.blocks.put(None)
        lane.join()
    if lane.error:
        raise lane.error
