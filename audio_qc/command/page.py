"""The report as one page of HTML: no script, nothing from outside, for screen, paper and screen reader."""

import os
import tempfile
from collections.abc import Iterable, Iterator
from html import escape
from pathlib import Path

from audio_qc.command.charts import charts
from audio_qc.command.outcome import Outcome
from audio_qc.command.text import clock_spans, safe, short_number
from audio_qc.drawing import STYLE
from audio_qc.finding import Finding
from audio_qc.headline import Figure, headline_figures
from audio_qc.measure import Report
from audio_qc.rules.formats import describe
from audio_qc.rules.words import clock
from audio_qc.version import __version__

MOST_SPANS = 60


def with_page(outcomes: Iterable[Outcome], path: str) -> Iterator[Outcome]:
    """Let all outcomes pass and write the page about them at the end, whole or not at all."""
    parts = []
    for number, outcome in enumerate(outcomes):
        parts.append(_article(outcome, f"file{number + 1}"))
        yield outcome
    _written(Path(path), page(parts))


def page(articles: list[str]) -> str:
    """Return the page; SECURITY: its own policy forbids scripts and loading, whatever a file's texts hold."""
    css = STYLE + Path(__file__).with_name("page.css").read_text(encoding="utf-8")
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">\n"
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>Sound quality report</title>\n<style>\n{css}</style>\n</head>\n<body>\n<main>\n"
        f"<h1>Sound quality report</h1>\n{''.join(articles)}"
        f'</main>\n<footer><p class="quiet">Measured by audio_qc {__version__}.</p></footer>\n</body>\n</html>\n'
    )


def _article(outcome: Outcome, name: str) -> str:
    title = f'<h2 id="{name}">{_text(outcome.file)}</h2>\n'
    if outcome.report is None:
        body = f'<p><span class="standing">cannot be measured</span> {_text(outcome.error)}</p>\n'
    else:
        body = _measured(outcome, outcome.report, name)
    return f'<article aria-labelledby="{name}">\n{title}{body}</article>\n'


def _measured(outcome: Outcome, report: Report, name: str) -> str:
    standing, sentence = outcome.verdict()
    facts = report.measurement.format
    drawn = "".join(f"<figure><figcaption>{title}</figcaption>{svg}</figure>\n" for title, svg in charts(report, name))
    return (
        f'<p class="quiet">{clock(facts.seconds)}, {_text(describe(facts))}</p>\n'
        f'<p><span class="standing">{_text(standing)}</span> {_text(sentence)}</p>\n'
        f'<div class="charts">\n{drawn}</div>\n<h3>Main figures</h3>\n{_figures(report)}'
        f"<h3>Findings</h3>\n{_findings(outcome.findings())}{_marks(report)}"
    )


def _figures(report: Report) -> str:
    rows = "".join(_figure(figure) for figure in headline_figures(report.measurement))
    head = '<tr><th scope="col">measure</th><th scope="col">value</th></tr>'
    return f"<table>\n<thead>{head}</thead>\n<tbody>\n{rows}</tbody>\n</table>\n"


def _figure(figure: Figure) -> str:
    why = f'<br><span class="quiet">{_text(figure.reason)}</span>' if figure.reason else ""
    return f'<tr><th scope="row">{figure.title}</th><td class="figure">{figure.text()}{why}</td></tr>\n'


def _findings(findings: tuple[Finding, ...]) -> str:
    return f'<ul class="findings">\n{"".join(map(_finding, findings))}</ul>\n'


def _finding(finding: Finding) -> str:
    value = "" if finding.value is None else f" {short_number(finding.value)} {_text(finding.unit)}"
    spans = f"<p>At {clock_spans(finding.spans, MOST_SPANS)}</p>" if finding.spans else ""
    details = (finding.archivist, finding.limit and f"Limit: {finding.limit}.", finding.source)
    return (
        f'<li><p><span class="standing">{_text(finding.standing)}</span> '
        f"<strong>{_text(finding.title)}</strong>{value}</p>"
        f"<p>{_text(finding.volunteer)}</p>{spans}"
        f'<p class="archivist">{" ".join(_text(detail) for detail in details if detail)}</p></li>\n'
    )


def _marks(report: Report) -> str:
    marks = report.measurement.marks
    if not marks:
        return ""
    rows = "".join(f"<tr><td>{clock(mark.at_seconds)}</td><td>{_text(mark.label)}</td></tr>\n" for mark in marks)
    head = '<tr><th scope="col">at</th><th scope="col">label</th></tr>'
    return f"<h3>Recorder's marks</h3>\n<table>\n<thead>{head}</thead>\n<tbody>\n{rows}</tbody>\n</table>\n"


def _text(text: str) -> str:
    """SECURITY: every text on the page goes through here; a file's name or a mark's label can hold HTML."""
    return escape(safe(text))


def _written(path: Path, content: str) -> None:
    """Replace the page in one step, so that nobody finds half of one."""
    handle, unfinished = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    try:
        with open(handle, "w", encoding="utf-8") as file:
            file.write(content)
        os.chmod(unfinished, 0o644)
        os.replace(unfinished, path)
    except BaseException:
        os.unlink(unfinished)
        raise
