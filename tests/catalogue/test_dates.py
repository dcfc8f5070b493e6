"""EDTF, held against the examples of its specification (Library of Congress, 4 February 2019; figures, not wording)."""

import pytest

from intake.catalogue.dates import checked, in_words
from intake.errors import Refused

LEVEL_0 = [
    "1985-04-12",
    "1985-04",
    "1985",
    "1985-04-12T23:20:30Z",
    "1964/2008",
    "2004-06/2006-08",
    "2004-02-01/2005-02-08",
]
LEVEL_1 = [
    "Y170000002", "2001-21", "1984?", "2004-06~", "2004-06-11%", "201X", "20XX", "2004-XX", "1985-04-XX", "1985-XX-XX",
    "1985-04-12/..", "1985-04/..", "1985/..", "../1985-04-12", "1985-04-12/", "/1985-04-12", "1984~/2004-06", "-1985",
]  # fmt: skip
LEVEL_2 = ["2004-06~-11", "{1667,1668,1670..1672}", "156X-12-25", "Y-17E7", "1XXX", "XXXX", "2001-34"]
NOT_EDTF = [
    "",
    "yesterday",
    "1985-13",
    "1985-02-30",
    "12.4.1985",
    "1985-1990",
    "85",
    "x" * 300,
    "open",
    "1985/1990/1995",
]


@pytest.mark.parametrize("date", LEVEL_0 + LEVEL_1)
def test_levels_0_and_1_are_kept_as_they_are(date):
    assert checked(f" {date} ") == date


@pytest.mark.parametrize("date", LEVEL_2 + NOT_EDTF)
def test_the_rest_is_refused_in_a_sentence(date):
    with pytest.raises(Refused) as refused:
        checked(date)
    assert "Such as 1943" in str(refused.value)


def test_an_end_before_the_beginning_is_refused():
    with pytest.raises(Refused, match="ends before it begins"):
        checked("1965/1962")


@pytest.mark.parametrize(
    ("typed", "meant"), [("about 1943", "1943~"), ("circa 1950s", "195X~"), ("May 1943", "1943-05")]
)
def test_what_may_be_meant_is_told(typed, meant):
    with pytest.raises(Refused) as refused:
        checked(typed)
    assert meant.rstrip("~") in str(refused.value)


@pytest.mark.parametrize(
    ("date", "words"),
    [
        ("1943", "1943"),
        ("1943~", "about 1943"),
        ("1943?", "1943, uncertain"),
        ("1943%", "about 1943, uncertain"),
        ("195X", "the 1950s"),
        ("18XX", "the 1800s"),
        ("195X~", "about the 1950s"),
        ("1943-05", "May 1943"),
        ("1943-05-08", "8 May 1943"),
        ("1943-24", "winter 1943"),
        ("1962/1965", "1962 to 1965"),
        ("1962/..", "1962 and later"),
        ("1962/", "1962 to an unknown time"),
        ("../1965", "until 1965"),
        ("Y170000002", "Y170000002"),
    ],
)
def test_in_words(date, words):
    assert in_words(date) == words
