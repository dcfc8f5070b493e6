"""Figures and places as people read them."""

import pytest

from audio_qc.command.text import clock_spans, safe, short_number
from audio_qc.facts.faults import Span


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.0, "0"), (-6.6e-05, "0"), (0.0421, "0.042"), (-0.5, "-0.5"), (9.592, "9.6"), (-57.94, "-57.9"),
        (48.0, "48"), (100.0, "100"), (123_456.78, "123456.8"),
    ],
)  # fmt: skip
def test_a_figure_has_the_digits_that_somebody_reads(value: float, text: str) -> None:
    assert short_number(value) == text


def test_stretches_are_told_once_each_and_the_rest_is_counted() -> None:
    spans = tuple(
        Span(start, end, 0, 0, None) for start, end in ((7.1, 7.9), (7.2, 7.3), (9.0, 12.0), (3_600.0, 3_601.5))
    )
    assert clock_spans(spans, 8) == "0:07, 0:09 to 0:12, 1:00:00 to 1:00:01"
    assert clock_spans(spans, 1) == "0:07 and 2 more"


def test_nothing_commands_a_terminal_and_scripts_of_every_direction_stay() -> None:
    assert safe("a\x1b[2Jb\x07\x9b\u202ec") == "a\ufffd[2Jb\ufffd\ufffd\ufffdc"
    assert safe("שלום Žofie 日本") == "שלום Žofie 日本"
