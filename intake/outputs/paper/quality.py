"""The quality report of one recording: the verdict in a sentence, its picture, every measure, and what was heard where.

It reports what was measured and decides nothing, hence its frame is empty.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, LongTable

from intake.outputs.paper import style, words
from intake.outputs.paper.fonts import printable
from intake.outputs.paper.pages import Sheet, build
from intake.outputs.paper.style import FIRST_ISSUE, Issue, Library, fact, heading, marked_up, ours, text_fact

KIND = "Quality report"
STRIP_HEIGHT = 20 * mm
FULL_SCALE = 127
EDGE = 4  # points by which a mark stands out
NARROWEST = 1.2  # points: a click is seen too
CHANNELS = {1: "one channel", 2: "left above, right below"}
# Where something was heard: as dark as its standing is grave, so that it is seen in black and white.
SPAN_COLOURS = {"problem": "#a3301f", "look closer": "#c99a4a", "note": "#b9c9c4"}
WIDTHS = (150, style.WIDTH - 150 - 92 - 110, 110, 92)

ADVICE_SENTENCE = (
    "This report advises. People decide: a voice that cannot be recorded again is worth more than a clean recording. "
    "Loudness is measured after ITU-R BS.1770 and EBU Tech 3341 and 3342."
)
UNMEASURED_SENTENCE = "No sound could be read from this file, so nothing was measured: "


@dataclass(frozen=True)
class Place:
    """From where to where something was heard, in seconds from the beginning; `to_s` None for a point."""

    from_s: float
    to_s: float | None

    @property
    def told(self) -> str:
        end = "" if self.to_s is None else f"–{words.exact_clock(self.to_s)}"
        return f"{words.exact_clock(self.from_s)}{end}"


@dataclass(frozen=True)
class Heard:
    """One finding: `value` and `target` with their units, `plain` for anybody and `exact` for the archivist."""

    title: str
    standing: str
    value: str
    target: str
    plain: str
    exact: str
    source: str
    places: tuple[Place, ...]

    @property
    def is_worth_telling(self) -> bool:
        return self.standing in SPAN_COLOURS


@dataclass(frozen=True)
class QualityReport:
    """Everything that a quality report says. `number` is the accession's or, before an acceptance, empty.

    `seconds` is None and `unreadable` says why where nothing could be measured. `peaks` holds for each channel the
    lowest and highest value of each stretch of the recording in turn, from -127 to 127 at full scale.
    """

    library: Library
    number: str
    title: str
    part: str
    file: str
    sha256: str
    bytes: int
    format: str
    seconds: float | None
    verdict: str
    standing: str
    unreadable: str
    heard: tuple[Heard, ...]
    peaks: tuple[tuple[int, ...], ...]
    measured_at: datetime
    measured_with: str
    profile: str
    issue: Issue = FIRST_ISSUE


def quality_pdf(report: QualityReport) -> bytes:
    """The report as a PDF; ValueError for a time without zone or a digest that is not a SHA-256."""
    sheet = Sheet(
        kind=KIND,
        number=", ".join(filter(None, [report.number, report.part])),
        title=f"{KIND}: {report.title}, {report.part}",
        author=report.library.name,
        dated=report.measured_at,
        issue=report.issue,
    )
    return build(lambda: _story(report), sheet)


def _story(report: QualityReport) -> list[Flowable]:
    return [
        style.plain_letterhead(
            report.library, right=report.number or report.part, right_label="Accession" if report.number else "Of"
        ),
        style.outlined_band(KIND, printable(f"{report.standing.capitalize()}: {report.verdict}")),
        *style.issued_again(report.issue),
        *_recording(report),
        *(_measured(report) if not report.unreadable else [ours(UNMEASURED_SENTENCE + report.unreadable)]),
        style.gap(6),
        ours(ADVICE_SENTENCE, "small"),
    ]


def _recording(report: QualityReport) -> list[Flowable]:
    duration = "not known" if report.seconds is None else f"{words.clock(report.seconds)} (h:mm:ss)"
    return [
        text_fact("Interview", report.title, noun="title"),
        text_fact("Recording", f"{report.part}: {report.file}", noun="name"),
        text_fact("Format", report.format),
        fact("Duration", duration),
        fact("Size", f"{words.size(report.bytes)} ({words.exact_bytes(report.bytes)})"),
        fact("SHA-256", "<br/>".join(words.digest_lines(report.sha256)), "fact_digest"),
        fact("Measured", words.moment(report.measured_at)),
        text_fact("Measured with", f"{report.measured_with}, against “{report.profile}”"),
    ]


def _measured(report: QualityReport) -> list[Flowable]:
    telling = [heard for heard in report.heard if heard.is_worth_telling]
    return [
        *_picture(report),
        *style.table_heading("All measures", first_rows=40 * mm),
        _measures(report.heard),
        heading("What was heard, and where"),
        *([_finding(heard) for heard in telling] or [ours("Nothing that somebody should look at.")]),
    ]


def _picture(report: QualityReport) -> list[Flowable]:
    """Each channel over time, with the places where something was heard; nothing for a recording without sound."""
    if not (report.seconds and all(report.peaks)):
        return []
    channels = CHANNELS.get(len(report.peaks), f"{len(report.peaks)} channels, one below the other")
    told = (
        f"The recording from its beginning to {words.clock(report.seconds)}, {channels}. "
        "Marked are the places that are listed below: the darker, the graver."
    )
    strips = [_Strip(channel, report.heard, report.seconds) for channel in report.peaks]
    return [style.together(heading("The recording at a glance"), *strips, ours(told, "small"))]


class _Strip(Flowable):
    """One channel over the width of the page: its outline, behind it what was heard, the graver over the lesser.

    The marks stand out above and below, so that a loud place does not hide its own.
    """

    def __init__(self, peaks: Sequence[int], heard: Iterable[Heard], seconds: float) -> None:
        super().__init__()
        self.width, self.height = style.WIDTH, STRIP_HEIGHT + 2 * EDGE
        self.spaceAfter = 4
        self._peaks, self._seconds = peaks, seconds
        self._marked = [(one.standing, place) for one in heard if one.is_worth_telling for place in one.places]

    def draw(self) -> None:
        self.canv.setFillColor(style.SHEET)
        self.canv.rect(0, EDGE, self.width, STRIP_HEIGHT, stroke=0, fill=1)
        for standing, colour in reversed(SPAN_COLOURS.items()):
            self.canv.setFillColor(style.HexColor(colour))
            for place in (place for found, place in self._marked if found == standing):
                self._mark(place)
        self._outline()

    def _mark(self, place: Place) -> None:
        scale = self.width / self._seconds
        length = ((place.to_s or place.from_s) - place.from_s) * scale
        self.canv.rect(place.from_s * scale, 0, max(length, NARROWEST), self.height, stroke=0, fill=1)

    def _outline(self) -> None:
        """From bin to bin along the highest samples, and back along the lowest."""
        lows, highs = self._peaks[0::2], self._peaks[1::2]
        step, middle = self.width / len(lows), self.height / 2
        scale = STRIP_HEIGHT / 2 / FULL_SCALE
        there = [(index * step, middle + high * scale) for index, high in enumerate(highs)]
        back = [(index * step, middle + low * scale) for index, low in enumerate(lows)]
        path = self.canv.beginPath()
        path.moveTo(0, middle)
        for x, y in [*there, (self.width, middle), *reversed(back)]:
            path.lineTo(x, y)
        path.close()
        self.canv.setFillColor(style.RIVER)
        self.canv.setStrokeColor(style.RIVER)
        self.canv.setLineWidth(0.2)
        self.canv.drawPath(path, stroke=1, fill=1)


def _measures(heard: tuple[Heard, ...]) -> Flowable:
    head = [ours(name, "cell_soft") for name in ("Measure", "Value", "Target", "Standing")]
    rows = [[marked_up(printable(cell), "cell") for cell in _cells(one)] for one in heard]
    look = [
        *style.PLAIN_TABLE,
        ("RIGHTPADDING", (0, 0), (-2, -1), 6),
        ("TOPPADDING", (0, 0), (-1, -1), 3),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 4),
        ("LINEBELOW", (0, 0), (-1, -1), 0.6, style.RULE),
    ]
    return LongTable([head, *rows], colWidths=WIDTHS, repeatRows=1, style=look)


def _cells(heard: Heard) -> tuple[str, str, str, str]:
    return heard.title, heard.value or "–", heard.target or "–", heard.standing


def _finding(heard: Heard) -> Flowable:
    places = ", ".join(place.told for place in heard.places)
    told = [f"{heard.title} ({heard.standing})", heard.plain, heard.exact, places and f"At {places}", heard.source]
    first, *others = [printable(line) for line in told if line]
    return style.together(
        marked_up(f'<font name="{style.fonts.SANS_BOLD}">{first}</font>'),
        *(marked_up(line, "small") for line in others),
        style.gap(3),
    )
