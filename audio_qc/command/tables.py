"""What other programs read: JSON and CSV on standard output, and nothing else there."""

import csv
import json
import sys
from collections.abc import Iterator

from audio_qc.command.outcome import Outcome
from audio_qc.headline import HEADLINE_KEYS, headline_figures

OTHER_COLUMNS = ("file", "standing", "sentence", "error", "seconds")


def as_json(outcomes: Iterator[Outcome], single: bool) -> Iterator[Outcome]:
    """Print each outcome as it passes: one object, or an array of them in the order of the files."""
    sys.stdout.write("" if single else "[\n")
    for number, outcome in enumerate(outcomes):
        sys.stdout.write(",\n" if number else "")
        json.dump(outcome.to_dict(), sys.stdout, ensure_ascii=False, allow_nan=False)
        yield outcome
    sys.stdout.write("\n" if single else "\n]\n")


def as_csv(outcomes: Iterator[Outcome]) -> Iterator[Outcome]:
    """Print each outcome as a row as it passes; a figure that could not be measured is an empty cell."""
    table = csv.writer(sys.stdout, lineterminator="\n")
    table.writerow((*OTHER_COLUMNS, *HEADLINE_KEYS))
    for outcome in outcomes:
        standing, sentence = outcome.verdict()
        table.writerow([*map(harmless, (outcome.file, standing, sentence, outcome.error)), *_figures(outcome)])
        yield outcome


def harmless(cell: str) -> str:
    """Return text that no table program takes for a formula.

    SECURITY: a file's name or a mark's label can begin like one; an apostrophe in front makes it text.
    """
    return "'" + cell if cell.lstrip().startswith(("=", "+", "-", "@")) or cell.startswith(("\t", "\r", "\n")) else cell


def _figures(outcome: Outcome) -> list[str]:
    if outcome.report is None:
        return [""] * (1 + len(HEADLINE_KEYS))
    facts = outcome.report.measurement
    values = (figure.value for figure in headline_figures(facts))
    return [f"{facts.format.seconds:.3f}", *("" if value is None else f"{value:.2f}" for value in values)]
