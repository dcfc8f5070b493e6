"""The accession register: numbers without gaps or twins, and what was accepted as it stood then."""

from datetime import UTC, date, datetime

import pytest
from django.db import IntegrityError, transaction

from intake.errors import Refused
from intake.interviews.models import State
from intake.interviews.services import parts_of
from intake.jobs.models import Kind
from intake.library import services as libraries
from intake.people.models import Person
from intake.register.models import Accession, YearCounter
from intake.register.services import next_number
from intake.workflow import accept, take_up
from tests.factories import (
    a_signed_release,
    a_wav,
    an_accession,
    an_interview,
    at_time,
    interviewer_of,
    narrator_of,
    run_jobs,
    sha256,
)

pytestmark = pytest.mark.django_db


def ready(archivist):
    return an_interview(State.IN_REVIEW, reviewer=archivist, ready=True)


def test_numbers_follow_each_other(archivist):
    numbers = [accept(ready(archivist).pk, actor=archivist) for _ in range(3)]
    year = numbers[0].accepted_at.year
    assert [(accession.year, accession.sequence) for accession in numbers] == [(year, 1), (year, 2), (year, 3)]


def test_the_number_is_written_by_the_librarys_pattern(archivist, coordinator):
    libraries.number_by("AF.{year}.{sequence:03d}", actor=coordinator)
    accession = accept(ready(archivist).pk, actor=archivist)
    assert accession.number == f"AF.{accession.year}.001"


def test_a_sequence_without_the_year_runs_on_over_new_year_and_after_what_was_used(archivist, coordinator):
    interviews = [ready(archivist) for _ in range(4)]
    moments = [datetime(2027, 12, 30, 12, tzinfo=UTC), datetime(2027, 12, 31, 12, tzinfo=UTC)]
    moments += [datetime(2028, 1, 1, 12, tzinfo=UTC), datetime(2028, 1, 2, 12, tzinfo=UTC)]
    numbers = []
    for interview, moment in zip(interviews, moments, strict=True):
        with at_time(moment):
            numbers.append(accept(interview.pk, actor=archivist).number)
        libraries.number_by("OH-{sequence:03d}", actor=coordinator)
    assert numbers == ["2027-0001", "OH-002", "OH-003", "OH-004"]


def test_going_back_to_an_earlier_pattern_gives_no_number_twice(archivist, coordinator):
    patterns = ["{year}-{sequence:04d}", "OH-{sequence:03d}", "{year}-{sequence:04d}", "OH-{sequence:03d}"]
    given = []
    for pattern in patterns:
        libraries.number_by(pattern, actor=coordinator)
        foretold = next_number(pattern)
        given.append(accept(ready(archivist).pk, actor=archivist))
        assert given[-1].number == foretold, "the example on the set-up page is what the next acceptance gets"
    assert [accession.sequence for accession in given] == [1, 2, 3, 4]


def test_a_new_year_begins_at_one(archivist):
    interviews = [ready(archivist) for _ in range(3)]
    moments = [datetime(2027, 12, 31, 12, tzinfo=UTC)] * 2 + [datetime(2028, 1, 1, 12, tzinfo=UTC)]
    numbers = []
    for interview, moment in zip(interviews, moments, strict=True):
        with at_time(moment):
            numbers.append(accept(interview.pk, actor=archivist).number)
    assert numbers == ["2027-0001", "2027-0002", "2028-0001"]


def test_the_year_is_that_of_the_librarys_own_clock(archivist, settings):
    settings.TIME_ZONE = "Pacific/Auckland"
    interview = ready(archivist)
    with at_time(datetime(2027, 12, 31, 12, tzinfo=UTC)):  # one in the morning of New Year's Day in Auckland
        assert accept(interview.pk, actor=archivist).year == 2028


def test_an_acceptance_that_failed_gives_its_number_back(archivist, monkeypatch):
    first, second = ready(archivist), ready(archivist)

    def out_of_paper(*args, **kwargs):
        raise ZeroDivisionError

    with monkeypatch.context() as during:
        during.setattr("intake.workflow.record_decision", out_of_paper)
        with pytest.raises(ZeroDivisionError):
            accept(first.pk, actor=archivist)
    assert not Accession.objects.exists()
    assert accept(second.pk, actor=archivist).sequence == 1


def test_a_refused_acceptance_uses_no_number(archivist):
    with pytest.raises(Refused):
        accept(an_interview(State.IN_REVIEW, reviewer=archivist).pk, actor=archivist)
    assert not YearCounter.objects.exists()


def test_the_database_uses_a_number_once():
    accession = an_accession()
    other = an_interview(State.DRAFT, parts=0)
    values = Accession.objects.filter(pk=accession.pk).values().get()
    with pytest.raises(IntegrityError), transaction.atomic():
        Accession.objects.create(
            **{**values, "id": None, "interview_id": other.pk, "number": "other", "receipt_number": "R-other"}
        )


def test_the_register_holds_what_was_accepted(archivist):
    content = a_wav(seconds=0.5)
    accession = an_accession(content=content, reviewer=archivist)
    held = accession.snapshot
    assert held["title"] == "Interview with Marit Oskarsen, 14 Mar 2026"
    assert (held["collection"], held["recorded_on"]) == ("Both Banks: the crossing years", "2026-03-14")
    assert (held["narrators"], held["interviewers"]) == (["Marit Oskarsen"], ["Tobias Wrenfield"])
    assert held["given_by"] == "Tobias Wrenfield"
    assert held["restriction"] == "Open: anyone may hear it."
    (part,) = held["parts"]
    assert (part["sha256"], part["bytes"], part["seconds"]) == (sha256(content), len(content), 0.5)
    assert part["format"] == "WAV, 16 kHz, 16 bit, mono"
    assert {(terms["signer"], terms["role"]) for terms in held["terms"]} == {
        ("Marit Oskarsen", "Narrator"),
        ("Tobias Wrenfield", "Interviewer"),
    }
    assert accession.accepted_by == archivist
    assert accession.receipt_number.startswith("R-")


def test_the_parts_stand_in_their_order():
    accession = an_accession(parts=2)
    assert [(part["position"], part["name"]) for part in accession.snapshot["parts"]] == [
        (1, "TOLL0001.WAV"),
        (2, "TOLL0002.WAV"),
    ]


def test_what_changes_later_does_not_change_the_register():
    accession = an_accession()
    Person.objects.filter(name="Marit Oskarsen").update(name="Marit Oskarsen-Lund")
    accession.refresh_from_db()
    assert accession.snapshot["narrators"] == ["Marit Oskarsen"]


def test_the_register_holds_the_strictest_restriction(archivist):
    interview = an_interview(State.SUBMITTED)
    a_signed_release(narrator_of(interview), access="closed", closed_until=date(2061, 1, 1))
    a_signed_release(interviewer_of(interview))
    held = finish(interview, archivist).snapshot
    assert held["restriction"].startswith("Closed until 1 Jan 2061")
    assert [terms["closed_until"] for terms in held["terms"]] == ["2061-01-01", None]


def test_a_recording_without_readable_sound_says_so_in_the_register(archivist):
    accession = an_accession(content=b"this is no recording at all", reviewer=archivist)
    (part,) = accession.snapshot["parts"]
    assert part["seconds"] is None
    assert part["format"] == "not readable as sound"
    assert len(parts_of(accession.interview)) == 1


def finish(interview, archivist) -> Accession:
    run_jobs(Kind.MEASURE_PART)
    take_up(interview.pk, actor=archivist)
    return accept(interview.pk, actor=archivist)
