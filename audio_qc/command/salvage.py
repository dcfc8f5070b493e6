"""`python -m audio_qc salvage FILE`: a copy with a true header of a file whose recorder stopped too early."""

import argparse
import os
import sys

from audio_qc.command.text import safe
from audio_qc.command.watch import Bar
from audio_qc.errors import AudioQCError
from audio_qc.rules.words import clock
from audio_qc.salvage import Salvaged, salvage

METHODS = {
    "copied": "the same samples, byte for byte",
    "decoded": "what could be decoded of the sound, as WAV",
}


def main(arguments: list[str]) -> int:
    """Write the copy and say what became of it; the original is only read."""
    parser = argparse.ArgumentParser(
        prog="python -m audio_qc salvage",
        description="Writes a copy with a true header of a damaged file; the file itself is only read.",
    )
    parser.add_argument("file", metavar="FILE", help="the damaged sound file")
    parser.add_argument(
        "--to", metavar="PATH", help="the copy; beside the file, with -salvaged in its name, unless given"
    )
    options = parser.parse_args(arguments)
    target = options.to or f"{os.path.splitext(options.file)[0]}-salvaged.wav"
    try:
        with Bar((options.file,)) as bar:
            salvaged = salvage(options.file, target, progress=lambda share: bar.tell(0, share))
    except AudioQCError as error:
        sys.stderr.write(f"{safe(options.file)}: {error}\n")
        return 2
    sys.stdout.write(_told(salvaged, target))
    return 0


def _told(salvaged: Salvaged, target: str) -> str:
    mended = "".join(f"  {safe(note.detail)}\n" for note in salvaged.mended)
    return f"{safe(target)}: {clock(salvaged.seconds)} of sound, {METHODS[salvaged.method]}.\n" + (
        f"What was wrong with the original:\n{mended}" if mended else ""
    )
