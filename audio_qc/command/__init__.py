"""The command line: `python -m audio_qc FILE...`, and a few commands that have a name of their own.

Exit codes: 0 good or notes only, 1 something to look at, 2 a file that cannot be measured or a mistake in the command,
130 stopped by Ctrl-C.
"""

import io
import os
import sys
from collections.abc import Callable

STOPPED, NOBODY_READS = 130, 141  # 128 + SIGINT, 128 + SIGPIPE, as shells give them


def main(arguments: list[str] | None = None) -> int:
    """Do what the command line says; return the exit code."""
    given = sys.argv[1:] if arguments is None else arguments
    _speak_utf8()
    try:
        code = _command(given)(given)
        sys.stdout.flush()
    except KeyboardInterrupt:
        return STOPPED
    except BrokenPipeError:
        # Whoever read has gone: what is left in the buffer must not raise again when Python ends.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return NOBODY_READS
    return code


def _command(arguments: list[str]) -> Callable[[list[str]], int]:
    """Return what the first word asks for; a file of the same name is given as ./marks."""
    # Each is imported when it is asked for, so that a refusal or --help is quick.
    first = arguments[0] if arguments else ""
    if first == "marks":
        from audio_qc.command.marks import marks  # noqa: PLC0415

        return lambda given: marks(given[1:])
    if first == "bench":
        from audio_qc.bench import main as bench  # noqa: PLC0415

        return lambda given: bench(given[1:])
    if first == "schema":
        from audio_qc.command.schema import schema  # noqa: PLC0415

        return lambda given: schema(given[1:])
    from audio_qc.command.measuring import measuring  # noqa: PLC0415

    return measuring


def _speak_utf8() -> None:
    """Write UTF-8 whatever the computer's language setting, and never stop at a name that is no text."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(encoding="utf-8", errors="backslashreplace")
