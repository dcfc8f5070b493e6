"""Dates, durations, sizes and digests on paper."""

import hashlib
from datetime import UTC, date, datetime, timedelta, timezone

import pytest

from intake.outputs.paper import words

INDIA = timezone(timedelta(hours=5, minutes=30))
NEW_YEAR = datetime(2026, 1, 1, 8, 5, 9)  # noqa: DTZ001 - a time without a zone is what one test is about


def test_a_date_reads_like_25_nov_2026() -> None:
    assert words.day(date(2026, 11, 25)) == "25 Nov 2026"
    assert [words.day(date(2026, month, 1)) for month in (1, 5, 9)] == ["1 Jan 2026", "1 May 2026", "1 Sep 2026"]


@pytest.mark.parametrize(
    ("zone", "expected"),
    [
        (UTC, "1 Jan 2026, 08:05:09 (UTC)"),
        (INDIA, "1 Jan 2026, 08:05:09 (UTC+05:30)"),
        (timezone(timedelta(hours=-3, minutes=-30), "NST"), "1 Jan 2026, 08:05:09 (NST, UTC-03:30)"),
        (timezone(timedelta(0), "GMT"), "1 Jan 2026, 08:05:09 (GMT, UTC+00:00)"),
    ],
)
def test_a_time_names_its_zone(zone: timezone, expected: str) -> None:
    assert words.exact_moment(NEW_YEAR.replace(tzinfo=zone)) == expected


def test_a_time_without_zone_is_refused() -> None:
    with pytest.raises(ValueError, match="time zone"):
        words.moment(NEW_YEAR)


@pytest.mark.parametrize(
    ("seconds", "expected"),
    [(0, "0:00:00"), (59.4, "0:00:59"), (59.5, "0:01:00"), (3753, "1:02:33"), (360_000, "100:00:00")],
)
def test_a_duration_reads_like_a_timecode(seconds: float, expected: str) -> None:
    assert words.clock(seconds) == expected


@pytest.mark.parametrize(
    ("count", "expected"),
    [(900, "0.9 kB"), (434_900_000, "434.9 MB"), (1_000_000, "1.0 MB"), (7_250_000_000, "7.2 GB")],
)
def test_a_size_has_one_decimal_in_powers_of_1000(count: int, expected: str) -> None:
    # Prefixes by the International System of Units (BIPM brochure, 9th edition, table 7): mega is 10^6, giga 10^9.
    assert words.size(count) == expected


def test_the_exact_number_of_bytes_is_written_out() -> None:
    assert words.exact_bytes(456_012_345) == "456,012,345 bytes"
    assert words.exact_bytes(1) == "1 byte"


def test_a_digest_keeps_all_its_digits_in_groups_of_four() -> None:
    # "abc": FIPS 180-2, appendix B.1, the standard's worked example.
    digest = hashlib.sha256(b"abc").hexdigest()
    assert words.digest_lines(digest.upper()) == (
        "ba78 16bf 8f01 cfea 4141 40de 5dae 2223",
        "b003 61a3 9617 7a9c b410 ff61 f200 15ad",
    )


@pytest.mark.parametrize("wrong", ["", "abc", "g" * 64, "a" * 63, "a" * 65])
def test_what_is_no_sha256_is_refused(wrong: str) -> None:
    with pytest.raises(ValueError, match="64 hexadecimal digits"):
        words.digest_lines(wrong)
