"""Draws facts as SVG: pure functions from numbers to text, without script and without anything from outside.

Every picture has a title and a description for those who cannot see it. What colour tells is told by another means
too: lines differ in their dashes, marked stretches are hatched. Colours are names (`--aq-...`) that the page around
the picture sets for light and dark (`STYLE`); `picture` gives a file that carries them itself.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape

from audio_qc.facts.faults import Span
from audio_qc.facts.file import Mark
from audio_qc.rules.words import clock, seconds_text

WIDTH_PX, LEFT_PX, RIGHT_PX = 480, 46, 454
TOP_PX, BOTTOM_PX, HEIGHT_PX = 26, 166, 204
LEAST_LANE_PX = 40
CHANNEL_NAMES = {1: ("",), 2: ("left", "right")}

# Contrast of lines to ground at least 3:1, of text 4.5:1 (WCAG 2.2, 1.4.11 and 1.4.3), in light and in dark.
LIGHT = (
    "--aq-ink:#1f2933;--aq-quiet:#52606d;--aq-grid:#d5dae0;--aq-first:#1b5e9c;"
    "--aq-second:#a3460b;--aq-stretch:#b3261e;--aq-ground:#fff"
)
DARK = (
    "--aq-ink:#e8ecf0;--aq-quiet:#a9b4bf;--aq-grid:#3b4650;--aq-first:#7db8f0;"
    "--aq-second:#f2a365;--aq-stretch:#ff8a80;--aq-ground:#14191e"
)
STYLE = (
    f":root{{color-scheme:light dark;{LIGHT}}}@media (prefers-color-scheme:dark){{:root{{{DARK}}}}}"
    f"@media print{{:root{{{LIGHT}}}}}"
    ".aq text{font:13px system-ui,sans-serif;fill:var(--aq-quiet)}.aq .grid{stroke:var(--aq-grid)}"
    ".aq .first,.aq .second,.aq .level{fill:none;stroke:var(--aq-first);stroke-width:1.6;stroke-linejoin:round}"
    ".aq .second{stroke:var(--aq-second);stroke-dasharray:5 3}.aq .level{stroke:var(--aq-ink);stroke-dasharray:2 3}"
    ".aq .area{fill:var(--aq-first)}.aq .faint{fill:var(--aq-first);stroke:var(--aq-first);opacity:.4}"
    ".aq .mark{fill:var(--aq-second)}"
    ".aq .stretch{stroke:var(--aq-stretch)}.aq .hatch{stroke:var(--aq-stretch);stroke-width:1.5}"
)


@dataclass(frozen=True)
class Axis:
    """Where a value lies in the picture; `logarithmic` for frequencies."""

    low: float
    high: float
    start_px: float
    end_px: float
    logarithmic: bool = False

    def at(self, value: float) -> float:
        """Return the place of a value in pixels, held inside the axis."""
        value = min(max(value, self.low), self.high)
        share = (
            math.log(value / self.low) / math.log(self.high / self.low)
            if self.logarithmic
            else (value - self.low) / (self.high - self.low)
        )
        return round(self.start_px + share * (self.end_px - self.start_px), 1)


@dataclass(frozen=True)
class Line:
    """One curve: its name, and points in the units of the axes; a None breaks the line."""

    label: str
    xs: Sequence[float]
    ys: Sequence[float | None]


def waveform(
    name: str,
    peaks: Sequence[Sequence[int]],
    frames_per_bin: int,
    rate_hz: int,
    seconds: float,
    spans: Iterable[Span] = (),
    marks: Iterable[Mark] = (),
) -> str:
    """Draw the outline of every channel (lowest and highest of each bin in turn, -127 to 127) over the time.

    Stretches are hatched, in the channel that they are in or in all; marks are small triangles on top.
    """
    time = _time_axis(seconds)
    lane_px = max(LEAST_LANE_PX, (BOTTOM_PX - TOP_PX) // len(peaks))
    bottom = TOP_PX + lane_px * len(peaks)
    names = CHANNEL_NAMES.get(len(peaks), tuple(str(number + 1) for number in range(len(peaks))))
    body = [_time_grid(time, TOP_PX, bottom)]
    for number, channel in enumerate(peaks):
        lane = Axis(-127.0, 127.0, TOP_PX + lane_px * (number + 1) - 3, TOP_PX + lane_px * number + 3)
        body.append(_outline(channel, frames_per_bin / rate_hz, time, lane))
        body.append(_text(LEFT_PX - 6, lane.at(0) + 4, names[number], "end"))
    body += [_stretch(name, span, time, lane_px, bottom) for span in spans]
    for mark in marks:
        x = time.at(mark.at_seconds)
        body.append(f'<path class="mark" d="M{x - 4} {TOP_PX - 9}h8l-4 8z"/>')
    what = "the recording" if len(peaks) == 1 else f"{len(peaks)} channels"
    says = f"The outline of {what} over {clock(seconds) if seconds >= 1 else seconds_text(seconds)}."
    return _svg(name, "Waveform", says, bottom + 38, body)


def loudness_curve(
    name: str, momentary: Line, short_term: Line, seconds: float, integrated_lufs: float | None = None
) -> str:
    """Draw short-term loudness as a line and momentary as an area from its lowest to its highest, over the time."""
    time = _time_axis(seconds)
    known = [value for line in (momentary, short_term) for value in line.ys if value is not None]
    highest = max(known, default=0.0)
    level = Axis(*_tens(max(min(known, default=-60.0), highest - 60.0), highest), BOTTOM_PX, TOP_PX)
    body = [_time_grid(time, TOP_PX, BOTTOM_PX), _level_grid(level, "LUFS"), _band(momentary, time, level)]
    body.append(_curve("first", _thinned(short_term), time, level))
    says = f"Loudness over {clock(seconds)}; the loudest moment reads {highest:.1f} LUFS"
    if integrated_lufs is not None:
        body.append(f'<path class="level" d="M{LEFT_PX} {level.at(integrated_lufs)}H{RIGHT_PX}"/>')
        says += f", the whole {integrated_lufs:.1f} LUFS"
    legend = [("faint", momentary.label), ("first", short_term.label), ("level", "the whole")]
    drawn = _legend(legend if integrated_lufs is not None else legend[:2])
    return _svg(name, "Loudness over time", says + ".", HEIGHT_PX, [*body, drawn])


def level_histogram(name: str, lowest_dbfs: int, share_percent: Sequence[float]) -> str:
    """Draw how often each level occurs: a bar for each decibel from the lowest up, its share of the time upwards."""
    most = max(share_percent, default=0.0)
    filled = [number for number, share in enumerate(share_percent) if share > 0.0] or [0]
    low, high = _tens(lowest_dbfs + filled[0], lowest_dbfs + filled[-1] + 1)
    across, up = Axis(low, high, LEFT_PX, RIGHT_PX), Axis(0.0, most or 1.0, BOTTOM_PX, TOP_PX)
    body = [_level_columns(across), _share_grid(up)]
    for number in filled:
        left, right = across.at(lowest_dbfs + number), across.at(lowest_dbfs + number + 1)
        top = up.at(share_percent[number])
        body.append(f'<path class="area" d="M{left} {BOTTOM_PX}V{top}H{right - 0.8:.1f}V{BOTTOM_PX}z"/>')
    where = lowest_dbfs + max(filled, key=lambda number: share_percent[number])
    says = f"Share of the time at each level; the most frequent lies between {where} and {where + 1} dBFS."
    return _svg(name, "Level histogram", says, HEIGHT_PX, body)


def spectrum(name: str, lines: Sequence[Line], unit: str = "dB") -> str:
    """Draw levels over frequencies in Hz on a logarithmic axis; frequencies below 20 Hz are left out."""
    lines = [_audible(line) for line in lines]
    known = [value for line in lines for value in line.ys if value is not None]
    highest = max(known, default=0.0)
    hz = Axis(20.0, max(max(line.xs) for line in lines), LEFT_PX, RIGHT_PX, logarithmic=True)
    level = Axis(*_tens(max(min(known, default=-100.0), highest - 100.0), highest), BOTTOM_PX, TOP_PX)
    body = [_frequency_grid(hz), _level_grid(level, unit)]
    body += [_curve(_class(number), _thinned(line), hz, level) for number, line in enumerate(lines)]
    says = f"Level over frequency, from 20 Hz to {hz.high / 1000:.3g} kHz."
    return _svg(name, "Spectrum", says, HEIGHT_PX, [*body, _lines_legend(lines)])


def picture(svg: str) -> str:
    """Return a drawing as a file of its own, with its colours for light and dark inside."""
    ground = '<rect width="100%" height="100%" fill="var(--aq-ground)"/>'
    head, rest = svg.split("</desc>", 1)
    return f"{head}</desc><style>{STYLE}</style>{ground}{rest}\n"


# --- pieces ---


def _svg(name: str, title: str, says: str, height: float, body: Iterable[str]) -> str:
    hatch = (
        f'<defs><pattern id="{name}-hatch" width="6" height="6" patternUnits="userSpaceOnUse" '
        'patternTransform="rotate(45)"><path class="hatch" d="M0 0V6"/></pattern></defs>'
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="aq" viewBox="0 0 {WIDTH_PX} {height:g}" role="img" '
        f'aria-labelledby="{name}-title {name}-desc"><title id="{name}-title">{escape(title)}</title>'
        f'<desc id="{name}-desc">{escape(says)}</desc>{hatch}{"".join(body)}</svg>'
    )


def _text(x: float, y: float, text: str, anchor: str = "middle") -> str:
    return f'<text x="{x:g}" y="{y:g}" text-anchor="{anchor}">{escape(text)}</text>' if text else ""


def _grid_line(path: str) -> str:
    return f'<path class="grid" d="{path}"/>'


def _class(number: int) -> str:
    return "first" if number == 0 else "second"


def _tens(low: float, high: float) -> tuple[float, float]:
    """Return the limits in whole tens around two decibel values."""
    bottom, top = math.floor(low / 10) * 10.0, math.ceil(high / 10) * 10.0
    return bottom, max(top, bottom + 10.0)


def _time_axis(seconds: float) -> Axis:
    return Axis(0.0, max(seconds, 0.001), LEFT_PX, RIGHT_PX)


TIME_STEPS_S = (1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 28800)
SHORT_STEPS_MS = (1, 2, 5, 10, 20, 50, 100, 200)
MOST_TIME_STEPS = 6


def _time_grid(time: Axis, top: float, bottom: float) -> str:
    drawn = [
        _grid_line(f"M{time.at(tick)} {top}V{bottom}") + _text(time.at(tick), bottom + 16, said)
        for tick, said in _time_ticks(time.high)
    ]
    title = "time, ms" if time.high < 1 else "time, min:s" if time.high < 3600 else "time, h:min:s"
    return "".join((*drawn, _text((LEFT_PX + RIGHT_PX) / 2, bottom + 32, title)))


def _time_ticks(seconds: float) -> list[tuple[float, str]]:
    """Return place and label of each tick: clock readings, milliseconds in less than a second."""
    if seconds < 1:
        return [(tick / 1000, str(tick)) for tick in _ticks(seconds * 1000, SHORT_STEPS_MS)]
    return [(tick, clock(tick)) for tick in _ticks(seconds, TIME_STEPS_S)]


def _ticks(high: float, steps: tuple[int, ...]) -> range:
    step = next((one for one in steps if high / one <= MOST_TIME_STEPS), math.ceil(high / MOST_TIME_STEPS))
    return range(0, int(high) + 1, step)


def _level_grid(level: Axis, unit: str) -> str:
    step = 10 if level.high - level.low <= 60 else 20
    return _rows(level, [(tick, str(tick)) for tick in _multiples(level, step)], unit)


def _multiples(axis: Axis, step: int) -> range:
    return range(math.ceil(axis.low / step) * step, int(axis.high) + 1, step)


def _share_grid(up: Axis) -> str:
    ticks = [up.high * share for share in (0.0, 0.5, 1.0)]
    return _rows(up, [(tick, f"{tick:.2g}") for tick in ticks], "%")


def _rows(up: Axis, ticks: Iterable[tuple[float, str]], unit: str) -> str:
    drawn = [
        _grid_line(f"M{LEFT_PX} {up.at(tick)}H{RIGHT_PX}") + _text(LEFT_PX - 6, up.at(tick) + 4, said, "end")
        for tick, said in ticks
    ]
    return "".join((*drawn, _text(4, 14, unit, "start")))


def _level_columns(across: Axis) -> str:
    step = 10 if across.high - across.low <= 80 else 20
    return _columns(across, [(tick, str(tick)) for tick in _multiples(across, step)], "level, dBFS")


def _frequency_grid(hz: Axis) -> str:
    ticks = [tick for tick in (20, 50, 100, 200, 500, 1000, 2000, 5000, 10000, 20000, 50000) if tick <= hz.high]
    return _columns(hz, [(tick, f"{tick // 1000}k" if tick >= 1000 else str(tick)) for tick in ticks], "frequency, Hz")


def _columns(across: Axis, ticks: Iterable[tuple[float, str]], title: str) -> str:
    drawn = [
        _grid_line(f"M{across.at(tick)} {TOP_PX}V{BOTTOM_PX}") + _text(across.at(tick), BOTTOM_PX + 16, said)
        for tick, said in ticks
    ]
    return "".join((*drawn, _text((LEFT_PX + RIGHT_PX) / 2, BOTTOM_PX + 32, title)))


def _outline(channel: Sequence[int], bin_s: float, time: Axis, lane: Axis) -> str:
    """Draw at most one column a pixel, from its lowest to its highest sample."""
    bins = len(channel) // 2
    width = max(1, math.ceil(bins / (RIGHT_PX - LEFT_PX)))
    columns = range(0, bins, width)
    highest = [f"{time.at(c * bin_s)} {lane.at(max(channel[2 * c + 1 : 2 * (c + width) : 2]))}" for c in columns]
    lowest = [f"{time.at(c * bin_s)} {lane.at(min(channel[2 * c : 2 * (c + width) : 2]))}" for c in columns]
    # A stroke as well, so that silence is a line and not nothing.
    return f'<path class="area" stroke="var(--aq-first)" stroke-width=".6" d="M{"L".join(highest + lowest[::-1])}z"/>'


def _stretch(name: str, span: Span, time: Axis, lane_px: int, bottom: float) -> str:
    top = TOP_PX if span.channel is None else TOP_PX + lane_px * span.channel
    height = bottom - TOP_PX if span.channel is None else lane_px
    x = time.at(span.start_s)
    width = max(2.0, time.at(span.end_s) - x)
    return (
        f'<rect class="stretch" x="{x:g}" y="{top}" width="{width:.1f}" height="{height:g}" fill="url(#{name}-hatch)"/>'
    )


def _band(line: Line, time: Axis, level: Axis) -> str:
    """Draw from the lowest to the highest of each run of points that share a column; a thin line where they are one."""
    width = max(1, math.ceil(len(line.xs) / (RIGHT_PX - LEFT_PX)))
    upper, lower, drawn = [], [], []
    for start in range(0, len(line.xs) + width, width):
        known = [value for value in line.ys[start : start + width] if value is not None]
        if known:
            upper.append(f"{time.at(line.xs[start])} {level.at(max(known))}")
            lower.append(f"{time.at(line.xs[start])} {level.at(min(known))}")
        elif upper:
            drawn.append(f"M{'L'.join(upper + lower[::-1])}z")
            upper, lower = [], []
    return f'<path class="faint" d="{"".join(drawn)}"/>'


def _thinned(line: Line) -> Line:
    """Keep the highest of each run of points where there are more than the picture has columns."""
    width = math.ceil(len(line.xs) / (RIGHT_PX - LEFT_PX))
    if width <= 1:
        return line
    starts = range(0, len(line.xs), width)
    highest = [max((y for y in line.ys[s : s + width] if y is not None), default=None) for s in starts]
    return Line(line.label, [line.xs[start] for start in starts], highest)


def _audible(line: Line) -> Line:
    kept = [(x, y) for x, y in zip(line.xs, line.ys, strict=True) if x >= 20.0]
    return Line(line.label, [x for x, _ in kept], [y for _, y in kept])


def _curve(kind: str, line: Line, across: Axis, up: Axis) -> str:
    drawn, joined = [], False
    for x, y in zip(line.xs, line.ys, strict=True):
        if y is not None:
            drawn.append(f"{'L' if joined else 'M'}{across.at(x)} {up.at(y)}")
        joined = y is not None
    return f'<path class="{kind}" d="{"".join(drawn)}"/>'


def _lines_legend(lines: Sequence[Line]) -> str:
    return _legend([(_class(number), line.label) for number, line in enumerate(lines) if line.label])


def _legend(entries: Sequence[tuple[str, str]]) -> str:
    """Write what each kind of line means, along the top."""
    drawn, x = [], LEFT_PX + 8.0
    for kind, label in entries:
        sample = f'<rect class="faint" x="{x}" y="5" width="22" height="9"/>' if kind == "faint" else (
            f'<path class="{kind}" d="M{x} 10h22"/>'
        )  # fmt: skip
        drawn.append(sample + _text(x + 27, 14, label, "start"))
        x += 45 + 7.2 * len(label)
    return "".join(drawn)
