"""Dates that are not a day: EDTF, levels 0 and 1 (Library of Congress, 4 February 2019; ISO 8601-2)."""

import re

from edtf import (
    Date,
    DateAndTime,
    EDTFParseException,
    Interval,
    Level1Interval,
    LongYear,
    Season,
    UncertainOrApproximate,
    Unspecified,
    parse_edtf,
    text_to_edtf,
)

from intake.errors import Refused

LEVELS_0_AND_1 = (Date, DateAndTime, UncertainOrApproximate, Unspecified, Season, LongYear, Interval, Level1Interval)
# A decade or a century may be open; a thousand years are level 2.
TOO_OPEN = re.compile(r"\bY?-?\d?XXX")
EXAMPLES = "1943, 1943~ (about), 195X (the 1950s), 1962/1965, 1962/.. (and later)"
SEASONS = {"21": "spring", "22": "summer", "23": "autumn", "24": "winter"}
MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
    "December",
)  # fmt: skip
QUALIFIED = {"~": "about {}", "?": "{}, uncertain", "%": "about {}, uncertain"}
DAY = re.compile(r"(\d{4})(?:-(\d\d)(?:-(\d\d))?)?")
LONGEST = 60


def checked(typed: str) -> str:
    """The date as it is kept. Raises Refused with a sentence, and with what may be meant where that is clear."""
    text = typed.strip()
    try:
        if len(text) > LONGEST:
            raise EDTFParseException("too long")
        read = parse_edtf(text)
    except EDTFParseException as error:
        raise Refused(f"“{typed.strip()[:LONGEST]}” is no date in EDTF. {_perhaps(text)}Such as {EXAMPLES}.") from error
    if type(read) not in LEVELS_0_AND_1 or TOO_OPEN.search(text):
        raise Refused(f"“{text}” is EDTF of level 2, which other catalogues may not read. Such as {EXAMPLES}.")
    if isinstance(read, Interval) and _is_backwards(read):
        raise Refused(f"“{text}” ends before it begins.")
    return text


def in_words(text: str) -> str:
    """For people, such as "about 1943", "the 1950s", "1962 to 1965"; what has no words of ours stays as it is."""
    begins, slash, ends = text.partition("/")
    if not slash:
        return _one_in_words(text)
    if begins in {"", ".."}:
        return f"until {_one_in_words(ends)}"
    if ends in {"", ".."}:
        return f"{_one_in_words(begins)} and later" if ends else f"{_one_in_words(begins)} to an unknown time"
    return f"{_one_in_words(begins)} to {_one_in_words(ends)}"


def _one_in_words(text: str) -> str:
    if text[-1:] in QUALIFIED:
        return QUALIFIED[text[-1]].format(_one_in_words(text[:-1]))
    if re.fullmatch(r"\d{3}X", text):
        return f"the {text[:3]}0s"
    if re.fullmatch(r"\d{2}XX", text):
        return f"the {text[:2]}00s"
    day = DAY.fullmatch(text)
    if day is None:
        return text
    year, month, of_month = day.groups()
    if month in SEASONS:
        return f"{SEASONS[month]} {year}"
    named = f"{MONTHS[int(month) - 1]} {year}" if month else year
    return f"{int(of_month)} {named}" if of_month else named


def _is_backwards(interval: Interval) -> bool:
    """Only where both ends are days."""
    try:
        return interval.upper.upper_strict()[:3] < interval.lower.lower_strict()[:3]
    except (TypeError, AttributeError):  # an open or unknown end is no day
        return False


def _perhaps(text: str) -> str:
    """What the words may mean: "about 1943" is 1943~."""
    meant = text_to_edtf(text) if len(text) <= LONGEST else None
    try:
        return f"Perhaps {checked(meant)}? " if meant and meant != text else ""
    except Refused:
        return ""
