"""One meter a file; each takes the recording block by block and gives one dataclass of facts at the end."""

from typing import Any, Protocol

import numpy as np


class Meter(Protocol):
    """A meter of single samples; how the recording is cut into blocks must not change the result.

    Most meters need only sums and are given units instead (units.py).
    """

    def add(self, block: np.ndarray) -> None:
        """Take the next block, float64, shape (channels, frames), full scale 1.0; the block must not be changed."""

    def result(self) -> Any:
        """Return the facts; called once, after the last block."""
