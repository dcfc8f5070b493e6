"""Text from strangers - names of files, labels of marks - made fit to be shown."""

import unicodedata

from audio_qc.facts.faults import Span
from audio_qc.rules.words import clock

DIRECTIONS = "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"  # Unicode UAX #9, explicit formatting


def safe(text: str) -> str:
    """Return the text without what a terminal would obey.

    SECURITY: a file's name or a mark's label can hold escape sequences, or turn the direction of what follows;
    each such character is shown as a sign of its own.
    """
    readable = text.encode("utf-8", "replace").decode("utf-8")
    return "".join("\ufffd" if unicodedata.category(sign) == "Cc" or sign in DIRECTIONS else sign for sign in readable)


def short_number(value: float) -> str:
    """Return a figure with the digits that somebody reads: 0.042, 0.68, 9.6, 48, never with an exponent."""
    decimals = 3 if abs(value) < 0.1 else 2 if abs(value) < 1.0 else 1
    return f"{round(value, decimals) or 0.0:.{decimals}f}".rstrip("0").rstrip(".")


def clock_span(span: Span) -> str:
    """Return a stretch as a listener finds it: "0:07" or "0:07 to 0:12"."""
    start, end = clock(span.start_s), clock(span.end_s)
    return start if start == end else f"{start} to {end}"


def clock_spans(spans: tuple[Span, ...], most: int) -> str:
    """Return the stretches, each clock reading once, at most so many."""
    readings = list(dict.fromkeys(clock_span(span) for span in spans))
    more = f" and {len(readings) - most} more" if len(readings) > most else ""
    return ", ".join(readings[:most]) + more
