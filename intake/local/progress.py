"""How far a long piece of work is, told now and then."""

import time
from collections.abc import Callable
from dataclasses import dataclass, field

from intake.figures import size

EVERY_SECONDS = 2.0


@dataclass
class Progress:
    """`done` is the word for what is counted: "Copied 3 of 40 files, 1.2 of 9.8 GB"."""

    say: Callable[[str], None]
    done: str
    files: int
    total: int
    files_done: int = 0
    bytes_done: int = 0
    told_at: float = field(default_factory=time.monotonic)

    def add(self, count: int) -> None:
        """One more file of so many bytes is done."""
        self.files_done += 1
        self.bytes_done += count
        if time.monotonic() - self.told_at >= EVERY_SECONDS or self.files_done == self.files:
            self.told_at = time.monotonic()
            self.say(
                f"{self.done} {self.files_done} of {self.files} files, {size(self.bytes_done)} of {size(self.total)}."
            )
