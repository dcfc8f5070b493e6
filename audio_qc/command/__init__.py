"""The command line: `python -m audio_qc FILE...`, and a few commands that have a name of their own.

Exit codes: 0 good or notes only, 1 something to look at, 2 a file that cannot be measured or a mistake in the command,
130 stopped by Ctrl-C.
"""

import importlib
import io
import os
import sys
from typing import Any

STOPPED, NOBODY_READS = 130, 141  # 128 + SIGINT, 128 + SIGPIPE, as shells give them

# Each module is imported when it is asked for, so that a refusal or --help is quick.
MEASURING = "audio_qc.command.measuring"
COMMANDS = {
    "salvage": "audio_qc.command.salvage",
    "marks": "audio_qc.command.marks",
    "schema": "audio_qc.command.schema",
    "bench": "audio_qc.bench",
}


def main(arguments: list[str]) -> int:
    """Do what the command line says; return the exit code."""
    _speak_utf8()
    try:
        code = _done(arguments)
        sys.stdout.flush()
    except KeyboardInterrupt:
        return STOPPED
    except BrokenPipeError:
        # Whoever read has gone: what is left in the buffer must not raise again when Python ends.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return NOBODY_READS
    return code


def _done(arguments: list[str]) -> int:
    """Hand over to the command that the first word names; a file of the same name is given as ./marks."""
    first = arguments[0] if arguments else ""
    module: Any = importlib.import_module(COMMANDS.get(first, MEASURING))
    code: int = module.main(arguments[1:] if first in COMMANDS else arguments)
    return code


def _speak_utf8() -> None:
    """Write UTF-8 whatever the computer's language setting, and never stop at a name that is no text."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(encoding="utf-8", errors="backslashreplace")
