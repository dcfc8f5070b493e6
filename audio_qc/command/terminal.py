"""The report as people read it on a terminal."""

import shlex
import sys
from collections.abc import Iterator

from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from audio_qc.command.outcome import Outcome
from audio_qc.command.text import clock_spans, safe, short_number
from audio_qc.command.watch import Bar
from audio_qc.finding import GOOD, LOOK_CLOSER, NOT_MEASURED, NOTE, PROBLEM, Finding
from audio_qc.headline import headline_figures
from audio_qc.measure import Report
from audio_qc.rules.formats import describe
from audio_qc.rules.words import clock

STYLES = {PROBLEM: "bold red", LOOK_CLOSER: "bold yellow", NOTE: "bold cyan", GOOD: "bold green", NOT_MEASURED: "dim"}
MOST_SPANS = 8
WIDTH_WITHOUT_TERMINAL = 100


def as_text(outcomes: Iterator[Outcome], figures: bool, bar: Bar) -> Iterator[Outcome]:
    """Print each outcome as it passes; what could not be measured goes to the error output."""
    console = Console(markup=False, highlight=False)
    if not console.is_terminal:
        console.width = WIDTH_WITHOUT_TERMINAL
    for outcome in outcomes:
        with bar.aside():
            if outcome.report is None:
                sys.stderr.write(f"{safe(outcome.file)}: {outcome.error}\n")
            else:
                sys.stdout.write(rendered(console, _outcome(outcome, outcome.report, figures)))
                sys.stdout.flush()
        yield outcome


def rendered(console: Console, shown: RenderableType) -> str:
    """Return the text to write; rich itself would end the program where nobody reads any more."""
    with console.capture() as captured:
        console.print(shown)
    return "\n".join(line.rstrip() for line in captured.get().split("\n"))


def _outcome(outcome: Outcome, report: Report, figures: bool) -> RenderableType:
    standing, sentence = outcome.verdict()
    facts = report.measurement.format
    head = Text.assemble(
        (safe(outcome.file), "bold"), f"\n{clock(facts.seconds)}, {describe(facts)}\n",
        (standing.upper(), STYLES[standing]), f"  {sentence}\n",
    )  # fmt: skip
    shown = [one for one in outcome.findings() if figures or one.standing != GOOD]
    good = [] if figures else list(dict.fromkeys(one.title for one in report.findings if one.standing == GOOD))
    ending = [Text.assemble((GOOD, STYLES[GOOD]), "  " + ", ".join(good) + "\n")] if good else []
    if report.measurement.salvageable:
        said = f"A copy with a true header can be made: python -m audio_qc salvage {shlex.quote(safe(outcome.file))}\n"
        ending.append(Text(said))
    return Group(head, _table(report), *(_finding(one, figures) for one in shown), *ending)


def _table(report: Report) -> RenderableType:
    table = Table(box=None, show_header=False, padding=(0, 2, 0, 0))
    for figure in headline_figures(report.measurement):
        table.add_row(figure.title, Text(figure.text(), justify="right"), Text(figure.reason, "dim"))
    return Padding(table, (0, 0, 1, 2))


def _finding(finding: Finding, figures: bool) -> RenderableType:
    head = Text.assemble((finding.standing, STYLES[finding.standing]), f"  {finding.title}")
    if finding.value is not None:
        head.append(f"  {short_number(finding.value)} {finding.unit}")
    lines = [Text(finding.volunteer)]
    if finding.spans:
        lines.append(Text("at " + clock_spans(finding.spans, MOST_SPANS), "italic"))
    if figures:
        details = (finding.archivist, finding.limit and f"Limit: {finding.limit}.", finding.source)
        lines += [Text(safe(detail), "dim") for detail in details if detail]
    return Group(head, Padding(Group(*lines), (0, 0, 1, 2)))
