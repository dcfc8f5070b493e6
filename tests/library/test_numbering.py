"""Which patterns give accession numbers that can be used."""

import pytest

from intake.errors import Refused
from intake.library import services as libraries
from intake.library.numbering import faults_of, numbered, runs_by_year


@pytest.mark.parametrize(
    ("pattern", "number"),
    [
        ("{year}-{sequence:04d}", "2026-0007"),
        ("OH.{year}.{sequence:03d}", "OH.2026.007"),
        ("{sequence}", "7"),
        ("AF_{sequence:06d}", "AF_000007"),
    ],
)
def test_a_pattern_is_filled_in(pattern: str, number: str):
    assert faults_of(pattern) == []
    assert numbered(pattern, year=2026, sequence=7) == number


@pytest.mark.parametrize(
    ("pattern", "told"),
    [
        ("", "needs {sequence}"),
        ("{year}", "needs {sequence}"),
        ("{sequence}{sequence}", "needs {sequence} once"),
        ("{year}{year}{sequence}", "once"),
        ("{year}/{sequence}", "file names"),
        ("Ä{sequence}", "file names"),
        ("{sequence", "Every {"),
        ("sequence}", "Every {"),
        ("{sequence.__class__}", "not known here"),
        ("{sequence!r}", "not known here"),
        ("{0}{sequence}", "not known here"),
        ("{month}{sequence}", "not known here"),
        ("{sequence:d}", "{sequence:04d}"),
        ("{sequence:>9999999999}", "{sequence:04d}"),
        ("{year:04d}{sequence}", "{sequence:04d}"),
        ("x" * 36 + "{sequence}", "longer than 40"),
    ],
)
def test_a_pattern_that_cannot_be_used_says_why(pattern: str, told: str):
    assert any(told in fault for fault in faults_of(pattern)), faults_of(pattern)


def test_the_sequence_begins_anew_only_with_the_year_in_the_number():
    assert runs_by_year("{year}-{sequence}")
    assert not runs_by_year("{sequence}")


@pytest.mark.django_db
def test_a_bad_pattern_is_refused_and_the_old_one_stays(coordinator):
    libraries.number_by("OH-{sequence:05d}", actor=coordinator)
    with pytest.raises(Refused, match="needs"):
        libraries.number_by("OH", actor=coordinator)
    assert libraries.current().accession_pattern == "OH-{sequence:05d}"
