"""Two threads measure the same blocks, hold few of them and pass every error on."""

import threading
import time
from collections.abc import Iterator

import numpy as np
import pytest

from audio_qc import AudioQCError
from audio_qc.lanes import DEPTH, run_lanes


class Noting:
    """Notes what it is given; fails at one block, or takes its time, if told so."""

    def __init__(self, fails_at: int | None = None, seconds: float = 0.0) -> None:
        self.seen: list[int] = []
        self._fails_at = fails_at
        self._seconds = seconds

    def add(self, block: np.ndarray) -> None:
        time.sleep(self._seconds)
        if len(self.seen) == self._fails_at:
            raise ValueError("A meter's mistake.")
        self.seen.append(int(block[0, 0]))


def blocks(count: int) -> Iterator[np.ndarray]:
    yield from (np.full((1, 2), n) for n in range(count))


def nothing(frames: int) -> None:
    """Hear of a block and do nothing."""


def test_both_threads_are_given_every_block_in_order() -> None:
    one, two, three = Noting(), Noting(), Noting(seconds=0.001)
    told: list[int] = []
    run_lanes(blocks(50), (one, two), (three,), told.append)
    assert one.seen == two.seen == three.seen == list(range(50))
    assert told == [2] * 50


def test_reading_stays_few_blocks_ahead_of_the_thread_beside_it() -> None:
    slow, ahead = Noting(seconds=0.002), []

    def watched() -> Iterator[np.ndarray]:
        for block in blocks(60):
            ahead.append(int(block[0, 0]) - len(slow.seen))
            yield block

    run_lanes(watched(), (Noting(),), (slow,), nothing)
    assert max(ahead) <= DEPTH + 2
    assert len(slow.seen) == 60


def test_a_meters_mistake_ends_the_reading_and_is_raised() -> None:
    before, read = threading.active_count(), []

    def watched() -> Iterator[np.ndarray]:
        for block in blocks(10_000):
            read.append(1)
            yield block

    with pytest.raises(ValueError, match="mistake"):
        run_lanes(watched(), (Noting(),), (Noting(fails_at=3),), nothing)
    assert len(read) < 10_000
    assert threading.active_count() == before


def test_a_mistake_while_reading_is_raised_after_the_thread_beside_has_stopped() -> None:
    before, lane = threading.active_count(), Noting()

    def broken() -> Iterator[np.ndarray]:
        yield from blocks(5)
        raise AudioQCError("The end.")

    with pytest.raises(AudioQCError, match="The end"):
        run_lanes(broken(), (), (lane,), nothing)
    assert lane.seen == list(range(5))
    assert threading.active_count() == before
