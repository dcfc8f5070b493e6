"""Measures files in processes of their own, several at once.

A file that makes a decoder crash takes no other with it, and Ctrl-C need not wait until code has been compiled.
"""

import multiprocessing
import signal
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess

from audio_qc.command.outcome import Outcome, measured
from audio_qc.profile import Profile

Watch = Callable[[int, float | None], None]
CRASHED = "Measuring this file ended unexpectedly, as when the computer runs out of memory."


@dataclass
class Worker:
    """A process, the way to talk to it, and the number of the file that it has in hand."""

    process: BaseProcess
    connection: Connection
    number: int


def outcomes(files: tuple[str, ...], profile: Profile, jobs: int, watch: Watch) -> Iterator[Outcome]:
    """Yield what became of each file, in the order of the files; `watch` is told number and share done, None while
    code is compiled.

    Whenever the caller stops taking, as at Ctrl-C, the processes are ended.
    """
    early: dict[int, Outcome] = {}
    due = 0
    for number, outcome in _as_they_end(files, profile, jobs, watch):
        watch(number, 1.0)
        early[number] = outcome
        while due in early:
            yield early.pop(due)
            due += 1


def _as_they_end(files: tuple[str, ...], profile: Profile, jobs: int, watch: Watch) -> Iterator[tuple[int, Outcome]]:
    waiting = iter(enumerate(files))
    busy: list[Worker] = []
    try:
        for number, file in (next(waiting) for _ in range(min(jobs, len(files)))):
            busy.append(_started(profile, number, file))
        while busy:
            ready = wait([worker.connection for worker in busy])
            for worker in [one for one in busy if one.connection in ready]:
                message = _heard(worker, files)
                if not isinstance(message, Outcome):
                    watch(worker.number, message)
                    continue
                yield worker.number, message
                busy.remove(worker)
                if (following := next(waiting, None)) is not None:
                    busy.append(_continued(worker, profile, *following))
                else:
                    _ended(worker)
    finally:
        for worker in busy:
            _ended(worker)


def _heard(worker: Worker, files: tuple[str, ...]) -> float | Outcome | None:
    try:
        message: float | Outcome | None = worker.connection.recv()
    except (EOFError, ConnectionResetError):
        worker.process.join()
        message = Outcome(files[worker.number], None, CRASHED)
    return message


def _started(profile: Profile, number: int, file: str) -> Worker:
    # A fresh interpreter on every system: a copy of this one would inherit locks that its threads hold.
    context = multiprocessing.get_context("spawn")
    ours, theirs = context.Pipe()
    process = context.Process(target=_work, args=(theirs, profile), daemon=True)
    # Ctrl-C reaches every process of the terminal: they are born deaf to it, and this one ends them.
    hearing = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        process.start()
    finally:
        signal.signal(signal.SIGINT, hearing)
    theirs.close()
    ours.send(file)
    return Worker(process, ours, number)


def _continued(worker: Worker, profile: Profile, number: int, file: str) -> Worker:
    """Give the next file to the same process, or to a new one where it has crashed."""
    if worker.process.exitcode is not None:
        _ended(worker)
        return _started(profile, number, file)
    worker.connection.send(file)
    return Worker(worker.process, worker.connection, number)


def _ended(worker: Worker) -> None:
    worker.process.terminate()
    worker.process.join()
    worker.connection.close()


def _work(connection: Connection, profile: Profile) -> None:
    """Measure what is asked for until nobody asks any more; runs in the other process."""
    while True:
        try:
            file = connection.recv()
        except EOFError:
            return
        connection.send(measured(file, profile, connection.send))
