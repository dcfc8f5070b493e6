"""Lets several threads measure the same blocks at once: decoding and the compiled loops need no interpreter lock."""

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
    """Gives each block to its takers in turn."""

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
    blocks: Iterable[np.ndarray], lanes: Iterable[Sequence[Taker]], told: Callable[[int], None]
) -> None:  # fmt: skip
    """Give every block to every lane, in order; `told` hears of each block's frames when it has been given out.

    Returns when all is measured; raises what a taker or the reading raised.
    """
    threads = [_Lane(takers) for takers in lanes]
    for thread in threads:
        thread.start()
    try:
        for block in blocks:
            for thread in threads:
                thread.blocks.put(block)
            told(block.shape[1])
            if any(thread.error for thread in threads):
                break
    finally:
        for thread in threads:
            thread.blocks.put(None)
        for thread in threads:
            thread.join()
    for thread in threads:
        if thread.error:
            raise thread.error
