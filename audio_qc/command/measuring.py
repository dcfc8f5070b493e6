"""`python -m audio_qc FILE...`: measure, show or write what was found."""

import argparse
import os
from collections.abc import Generator, Iterator
from contextlib import closing

from audio_qc.command.crew import outcomes
from audio_qc.command.files import Named, named
from audio_qc.command.outcome import Outcome
from audio_qc.command.page import with_page
from audio_qc.command.tables import as_csv, as_json
from audio_qc.command.terminal import as_text
from audio_qc.command.watch import Bar
from audio_qc.errors import ProfileError
from audio_qc.profile import SPOKEN_INTERVIEW, Profile, load_profile
from audio_qc.version import __version__

COMMANDS = """commands with a name of their own:
  salvage FILE [--to PATH]   a copy with a true header of a file whose recorder stopped too early
  marks FILE [--csv]         the marks that the recorder stored in the file
  bench                      how fast this computer measures
  schema                     the JSON Schema of what --json prints

exit codes: 0 good or notes only, 1 something to look at, 2 a file that cannot be measured or a mistake in the command
"""


def main(arguments: list[str]) -> int:
    """Measure all files that are named; return the highest exit code of any."""
    parser = _parser()
    options = parser.parse_args(arguments)
    profile = _profile(parser, options.profile)
    _refuse_page(parser, options.html)
    wanted = named(options.file)
    with Bar(wanted.files) as bar, closing(_all_outcomes(wanted, profile, options.jobs or _cores(), bar)) as every:
        printed = _printed(every, options, wanted.single, bar)
        return max(outcome.exit_code() for outcome in (with_page(printed, options.html) if options.html else printed))


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m audio_qc",
        description="Measures spoken recordings and says what stands out. Files are only read.",
        epilog=COMMANDS,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("file", nargs="+", metavar="FILE", help="sound files, folders of them, or wildcards in quotes")
    written = parser.add_mutually_exclusive_group()
    written.add_argument("--json", action="store_true", help="print JSON: an object for one file, else an array")
    written.add_argument("--csv", action="store_true", help="print a table: a row for each file")
    parser.add_argument("--html", metavar="PATH", help="write a page with pictures, for reading and printing")
    parser.add_argument("--figures", action="store_true", help="show every figure, limit and source for the archivist")
    parser.add_argument("--profile", metavar="FILE.toml", help="limits other than those for spoken interviews")
    parser.add_argument("--jobs", type=_count, metavar="N", help="files measured at once; all cores unless given")
    parser.add_argument("--version", action="version", version=__version__)
    return parser


def _count(text: str) -> int:
    if not text.isascii() or not text.isdigit() or int(text) < 1:
        raise argparse.ArgumentTypeError("a whole number, 1 or more")
    return int(text)


def _cores() -> int:
    """Return the cores that this process may use, which can be fewer than the computer has."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _profile(parser: argparse.ArgumentParser, path: str | None) -> Profile:
    try:
        return load_profile(path) if path else SPOKEN_INTERVIEW
    except ProfileError as error:
        parser.error(str(error))


def _refuse_page(parser: argparse.ArgumentParser, path: str | None) -> None:
    """Before anything is measured; an ending of its own, because a slip here would write over a recording."""
    if path and not path.lower().endswith((".html", ".htm")):
        parser.error("the page's name must end in .html")
    if path and not os.path.isdir(os.path.dirname(path) or "."):
        parser.error("there is no such folder for the page")


def _all_outcomes(wanted: Named, profile: Profile, jobs: int, bar: Bar) -> Generator[Outcome, None, None]:
    yield from outcomes(wanted.files, profile, jobs, bar.tell)
    for name, sentence in wanted.refused:
        yield Outcome(name, None, sentence)


def _printed(every: Iterator[Outcome], options: argparse.Namespace, single: bool, bar: Bar) -> Iterator[Outcome]:
    if options.json:
        return as_json(every, single)
    if options.csv:
        return as_csv(every)
    return as_text(every, options.figures, bar)
