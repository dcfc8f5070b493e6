"""The progress bar on a terminal's error output; elsewhere nothing is shown."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from rich.console import Console
from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn, TimeRemainingColumn

from audio_qc.command.text import safe

COMPILING = "Compiling the measuring code, once on this computer"


class Bar:
    """One bar for all files: each counts the same, and the share done of those in hand is added up."""

    def __init__(self, files: tuple[str, ...]) -> None:
        self._title = safe(Path(files[0]).name) if len(files) == 1 else f"{len(files)} files"
        self._shares = [0.0] * len(files)
        console = Console(stderr=True)
        columns = (
            TextColumn("{task.description}", markup=False),
            BarColumn(),
            TaskProgressColumn(),
            TimeRemainingColumn(),
        )
        # What goes to standard output is ours to write: the bar must not carry it over to the error output.
        self._progress = Progress(
            *columns, console=console, transient=True, disable=not console.is_terminal,
            redirect_stdout=False, redirect_stderr=False,
        )  # fmt: skip
        self._task = self._progress.add_task(self._title, total=len(files) or 1)

    def __enter__(self) -> "Bar":
        self._progress.start()
        return self

    def __exit__(self, *error: object) -> None:
        self._progress.stop()

    def tell(self, number: int, share: float | None) -> None:
        """Move on by what one file has gained; None says that code is being compiled first."""
        self._shares[number] = share or 0.0
        title = COMPILING if share is None else self._title
        self._progress.update(self._task, completed=sum(self._shares), description=title)

    @contextmanager
    def aside(self) -> Iterator[None]:
        """Take the bar off the screen while something else is written to it."""
        self._progress.stop()
        yield
        self._progress.start()
