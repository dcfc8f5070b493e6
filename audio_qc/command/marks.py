"""`python -m audio_qc marks FILE`: the marks that the recorder stored in the file."""

import argparse
import csv
import sys

from rich.console import Console
from rich.table import Table

from audio_qc.command.tables import harmless
from audio_qc.command.terminal import rendered
from audio_qc.command.text import safe
from audio_qc.errors import AudioQCError
from audio_qc.facts.file import Mark
from audio_qc.source import open_source


def main(arguments: list[str]) -> int:
    """Print every mark with its place; nothing is measured, so this is quick."""
    parser = argparse.ArgumentParser(
        prog="python -m audio_qc marks", description="Lists the marks that the recorder stored in the file."
    )
    parser.add_argument("file", metavar="FILE", help="the sound file; it is only read")
    parser.add_argument("--csv", action="store_true", help="print a table for other programs")
    options = parser.parse_args(arguments)
    try:
        found = _marks(options.file)
    except AudioQCError as error:
        sys.stderr.write(f"{safe(options.file)}: {error}\n")
        return 2
    _print_csv(found) if options.csv else _print_table(found)
    return 0


def _marks(path: str) -> tuple[Mark, ...]:
    source = open_source(path)
    try:
        if source.decoder.claimed_frames is None:
            for _ in source.blocks():  # how long the sound is shows only at its end
                pass
        return source.marks()
    finally:
        source.close()


def _print_csv(found: tuple[Mark, ...]) -> None:
    table = csv.writer(sys.stdout, lineterminator="\n")
    table.writerow(("at_seconds", "at_frame", "length_frames", "label", "note"))
    table.writerows(
        (f"{mark.at_seconds:.3f}", mark.at_frame, mark.length_frames, harmless(mark.label), harmless(mark.note))
        for mark in found
    )


def _print_table(found: tuple[Mark, ...]) -> None:
    if not found:
        sys.stdout.write("The recorder left no marks in the file.\n")
        return
    table = Table("at", "frame", "frames long", "label", "note", box=None)
    for mark in found:
        table.add_row(
            _precise_clock(mark.at_seconds), str(mark.at_frame), _length(mark), safe(mark.label), safe(mark.note)
        )
    sys.stdout.write(rendered(Console(markup=False), table))


def _length(mark: Mark) -> str:
    return str(mark.length_frames) if mark.length_frames else ""


def _precise_clock(seconds: float) -> str:
    """Return hours, minutes, seconds and thousandths: 0:07:30.250."""
    thousandths = round(seconds * 1000)
    minutes, rest = divmod(thousandths, 60_000)
    return f"{minutes // 60}:{minutes % 60:02}:{rest // 1000:02}.{rest % 1000:03}"
