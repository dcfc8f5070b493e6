"""WebVTT, held against its specification's own forms and against a reader of others (webvtt-py).

Source of the rules: W3C, WebVTT: The Web Video Text Tracks Format, "Syntax" (editor's draft of May 2026).
"""

import io

import pytest
import webvtt as others
from hypothesis import given
from hypothesis import strategies as st

from intake.catalogue.webvtt import Spoken, read, write
from intake.errors import Refused

SMALLEST = "WEBVTT\n\n00:00.000 --> 00:01.000\nHello\n"
WHOLE = """\ufeffWEBVTT - an interview\r
\r
STYLE\r
::cue { color: red }\r
\r
NOTE not for the reader\r
00:00 is no time here\r
\r
first\r
00:00:00.500 --> 00:00:04.200 align:start line:0\r
<v.loud Marit Oskarsen>Please say <i>your</i> name &amp; age.</v>\r
\r
01:00:01.000\t-->\t01:00:02.500\r
<v Tobias>First.\r
Second.\r
<v Marit>Both at once &lt;laughs&gt;\r
"""


def test_the_smallest_file_is_read():
    assert read(SMALLEST.encode()) == [Spoken(0, 1000, "", "Hello")]


def test_marks_styles_notes_names_settings_and_voices_are_understood():
    assert read(WHOLE.encode()) == [
        Spoken(500, 4200, "Marit Oskarsen", "Please say your name & age."),
        Spoken(3_601_000, 3_602_500, "Tobias", "First.\nSecond."),
        Spoken(3_601_000, 3_602_500, "Marit", "Both at once <laughs>"),
    ]


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"", "WEBVTT"),
        (b"1\n00:00:01,000 --> 00:00:02,000\nHello\n", "WEBVTT"),
        (b"WEBVTTS\n\n00:00.000 --> 00:01.000\nHello\n", "WEBVTT"),
        (b"WEBVTT\nHello\n", "Line 2"),
        (b"WEBVTT\n\n00:00:01,000 --> 00:00:02,000\nHello\n", "comma"),
        (b"WEBVTT\n\n00:02.000 --> 00:01.000\nHello\n", "Line 3: it ends before it begins"),
        (b"WEBVTT\n\n00:01.000 --> 00:01.000\nHello\n", "Line 3: it ends before it begins"),
        (b"WEBVTT\n\n00:60.000 --> 01:01.000\nHello\n", "Line 3: these are no two times"),
        (b"WEBVTT\n\n00:01 --> 00:02\nHello\n", "Line 3: these are no two times"),
        (b"WEBVTT\n\n00:05.000 --> 00:06.000\nA\n\n00:01.000 --> 00:02.000\nB\n", "Line 6: it begins before"),
        (b"WEBVTT\n\nA name\nand words without a time\n", "without a time"),
        (b"WEBVTT\n\n00:01.000 --> 00:02.000\nA\n00:03.000 --> 00:04.000\nB\n", "empty line is missing"),
        (b"WEBVTT\n\nNOTE nothing else\n", "no words"),
        (b"WEBVTT\n\n00:01.000 --> 00:02.000\n<i></i>\n", "no words"),
        (b"WEBVTT\n\n00:01.000 --> 00:02.000\nAgr\xe9able\n", "UTF-8"),
        (b"WEBVTT\n\n" + b"x" * 10_000_001, "larger than 10 MB"),
    ],
)
def test_what_is_wrong_is_told_and_nothing_is_taken(content, told):
    with pytest.raises(Refused) as refused:
        read(content)
    assert told in str(refused.value)


def test_control_the_other_reader_lets_wrong_times_pass():
    """Why we read it ourselves: the library takes a cue that ends before it begins, and drops one with commas."""
    wrong = "WEBVTT\n\n00:00:02.000 --> 00:00:01.000\nA\n\n00:00:01,000 --> 00:00:02,000\nB\n"
    assert [caption.text for caption in others.from_string(wrong)] == ["A"]


def test_many_faults_are_counted_not_listed():
    wrong = "WEBVTT\n\n" + "00:02.000 --> 00:01.000\nA\n\n" * 40
    with pytest.raises(Refused) as refused:
        read(wrong.encode())
    assert len(refused.value.reasons) == 6
    assert "35 more" in refused.value.reasons[-1]


PRINTABLE = st.text(st.characters(blacklist_categories=("Cs", "Cc", "Zl", "Zp")), min_size=1, max_size=60)
WORDS = PRINTABLE.map(lambda text: " ".join(text.split())).filter(bool)


@given(st.lists(st.tuples(st.integers(0, 90_000_000), st.integers(1, 90_000), WORDS | st.just(""), WORDS), min_size=1))
def test_what_is_written_is_read_again_the_same(rows):
    spoken = [Spoken(start, start + length, voice, words) for start, length, voice, words in rows]
    written = write(spoken, notes=["A draft --> not checked\n\nby anybody"])
    assert read(written.encode()) == sorted(spoken, key=lambda one: one.starts_ms)


def test_others_read_what_is_written():
    spoken = [Spoken(0, 1500, "Marit", "Ice & <snow>\n\nand wind"), Spoken(3_600_000, None, "", "The ferry")]
    written = write(spoken, notes=["Outline of part 1"], lasts_ms=3_660_000)
    captions = others.from_buffer(io.StringIO(written))
    assert [(one.start, one.end) for one in captions] == [
        ("00:00:00.000", "00:00:01.500"), ("01:00:00.000", "01:01:00.000"),
    ]  # fmt: skip
    assert captions[0].voice == "Marit"


def test_a_topic_without_an_end_lasts_until_the_next():
    topics = [Spoken(0, None, "", "A"), Spoken(0, None, "", "B"), Spoken(9000, None, "", "C")]
    again = read(write(topics, notes=[]).encode())
    assert [(one.starts_ms, one.ends_ms) for one in again] == [(0, 9000), (0, 9000), (9000, 10_000)]
