"""Notices beside a part: the same recording twice, a recorder's clock that is off. Neither stops anything."""

import io
import struct
from datetime import UTC, date, datetime

import numpy as np
import pytest
import soundfile

from intake.audit.actions import Action
from intake.audit.services import story_of
from intake.files.models import Upload
from intake.interviews.models import State
from intake.interviews.services import parts_of
from intake.jobs.models import Kind
from intake.readiness import worth_knowing
from tests.factories import a_part_received, a_part_stored, a_started_interview, a_wav, an_interview, run_jobs
from tests.pages import links_of, signed_in, text_of
from tests.portal.pages import page, see
from tests.portal.tus import create, metadata

pytestmark = pytest.mark.django_db
OTHERS = "is part 1 of another interview"


# The same recording


@pytest.fixture
def twice(volunteer):
    """An interview that holds one recording twice."""
    interview = a_started_interview(volunteer)
    for name in ("TOLL0001.WAV", "TOLL0001 (1).WAV"):
        a_part_stored(interview, a_wav(), name=name)
    return interview


def test_a_part_handed_in_twice_says_so(browser, twice):
    told = text_of(see(browser, twice))
    assert told.count("The same recording as part 1.") == 1
    assert "Part 2 is the same recording as part 1." in told
    second = parts_of(twice)[1]
    assert "The same recording as part 1." in text_of(browser.get(page("part-detail", second.pk)))


def test_handing_it_in_all_the_same_is_possible_and_names_it(browser, twice, archivist):
    told = text_of(browser.post(page("interview-submit", twice.pk), follow=True))
    assert "Part 2 is the same recording as part 1. The library sees it too" in told
    noted = [event.details.get("worth_knowing") for event in story_of(twice) if event.action == Action.SUBMITTED]
    assert noted == [["Part 2 is the same recording as part 1."]]
    desk = text_of(signed_in(archivist).get(f"/desk/interviews/{twice.pk}/"))
    assert "Part 2 is the same recording as part 1." in desk


def test_accepting_it_names_it(archivist):
    interview = an_interview(State.IN_REVIEW, reviewer=archivist, parts=2, content=a_wav(), ready=True)
    told = text_of(signed_in(archivist).post(f"/desk/interviews/{interview.pk}/accept/", follow=True))
    assert "Part 2 is the same recording as part 1." in told


def test_a_part_taken_out_is_no_second_one(browser, twice):
    browser.post(page("part-remove", parts_of(twice)[0].pk))
    assert worth_knowing(twice) == []
    assert "The same recording" not in text_of(see(browser, twice))


def test_a_recording_of_ones_own_other_interview_is_named_with_a_link(browser, volunteer, twice):
    other = a_started_interview(volunteer, narrator="Edda Lowell")
    a_part_stored(other, a_wav())
    told = see(browser, other)
    assert f"The same recording {OTHERS}: Interview with Marit Oskarsen" in text_of(told)
    assert page("interview-detail", twice.pk) in links_of(told)


def test_of_anybody_elses_interview_a_volunteer_learns_nothing_and_staff_do(browser, other_volunteer, twice, archivist):
    other = a_started_interview(other_volunteer, narrator="Edda Lowell")
    a_part_stored(other, a_wav())
    seen = signed_in(other_volunteer).get(page("interview-detail", other.pk))
    assert OTHERS not in text_of(seen)
    assert "Marit" not in text_of(seen)
    assert OTHERS not in text_of(see(browser, twice))
    desk = signed_in(archivist).get(f"/desk/interviews/{other.pk}/")
    assert f"The same recording {OTHERS}" in text_of(desk)
    assert f"/desk/interviews/{twice.pk}/" in links_of(desk)


# The recorder's clock


def a_broadcast_wav(day: bytes) -> bytes:
    """A WAV with a bext chunk (EBU Tech 3285): its OriginationDate stands at byte 320 of the chunk."""
    file = io.BytesIO()
    soundfile.write(file, 0.1 * np.sin(np.arange(6400) / 8), 16_000, format="WAV", subtype="PCM_16")
    sound = file.getvalue()
    body = bytes(320) + day.ljust(10, b"\0") + b"08:00:00" + bytes(602 - 338)
    chunks = b"bext" + struct.pack("<I", len(body)) + body + sound[12:]
    return b"RIFF" + struct.pack("<I", 4 + len(chunks)) + b"WAVE" + chunks


def measured(interview, day: bytes):
    part = a_part_stored(interview, a_broadcast_wav(day))
    run_jobs()
    return part


@pytest.mark.parametrize(
    ("day", "told"), [(b"2014-01-01", "1 Jan 2014"), (b"2036:01:01", "1 Jan 2036"), (b"2026-03-11", "11 Mar 2026")]
)
def test_a_clock_that_tells_another_day_is_told_and_the_volunteers_day_stands(browser, interview, archivist, day, told):
    measured(interview, day)
    seen = text_of(see(browser, interview))
    assert f"The recorder's clock says {told}; you wrote 14 Mar 2026. Your date is kept." in seen
    assert "set the recorder's clock before the next interview" in seen
    interview.refresh_from_db()
    assert interview.recorded_on == date(2026, 3, 14)
    desk = text_of(signed_in(archivist).get(f"/desk/interviews/{interview.pk}/"))
    assert f"The recorder's clock says {told}; the volunteer wrote 14 Mar 2026." in desk


@pytest.mark.parametrize(
    "day", [b"2026-03-14", b"2026-03-13", b"2026/03/15", b"", b"0000-00-00", b"2026-02-30", b"soon"]
)
def test_a_clock_that_is_right_or_says_nothing_is_not_told(browser, interview, day):
    """A day either side: midnight, and clocks of other time zones."""
    measured(interview, day)
    assert "clock says" not in text_of(see(browser, interview))


def milliseconds(moment: datetime) -> int:
    return int(moment.timestamp() * 1000)


def handed_in_with(browser, interview, modified: object) -> str:
    create(browser, interview, described=metadata(filename="A.MP3", interview=interview.pk, lastmodified=modified))
    return text_of(see(browser, interview))


@pytest.mark.parametrize(("year", "told"), [(1980, "1 Jun 1980"), (2014, "1 Jun 2014"), (2099, "1 Jun 2099")])
def test_without_a_day_in_the_sound_the_files_own_date_is_looked_at(browser, interview, year, told):
    """1980 is what a file system without a clock writes (from memory: FAT dates begin there)."""
    assert f"The recorder's clock says {told};" in handed_in_with(
        browser, interview, milliseconds(datetime(year, 6, 1, 12, tzinfo=UTC))
    )


def test_a_file_copied_after_the_interview_has_a_later_date_and_that_is_no_fault(browser, interview):
    assert "clock says" not in handed_in_with(browser, interview, milliseconds(datetime(2026, 3, 20, tzinfo=UTC)))


@pytest.mark.parametrize("modified", ["", "soon", "0", "1" * 40, "-1" + "0" * 30, "1e9", "٣", "253402300799999"])
def test_a_date_that_is_none_is_left_out(browser, interview, modified):
    assert "clock says" not in handed_in_with(browser, interview, modified)
    assert Upload.objects.get().modified_at is None


def test_what_is_no_sound_is_said_in_plain_words(browser, volunteer):
    """A photograph handed in as a recording: audio_qc says that it is none."""
    interview = a_started_interview(volunteer)
    a_part_stored(interview, b"\xff\xd8\xff\xe0\0\x10JFIF" + bytes(5000), name="TOLL0009.WAV")
    run_jobs()
    seen = text_of(see(browser, interview))
    assert "This file could not be read as sound." in seen
    assert "take it out and choose the recording instead" in seen
    assert "See what was found" in seen
    assert "Listen, and see what was measured" not in seen


# Not whole, not the same


def test_a_file_that_arrived_different_is_told_to_both_and_handing_it_in_again_works(browser, interview, archivist):
    damaged = a_part_received(interview, a_wav(), declared="0" * 64)
    run_jobs(Kind.STORE_UPLOAD)
    told = "It arrived damaged. Your recorder's card still holds it: take this part out and hand it in again."
    assert told in text_of(see(browser, interview))
    desk = text_of(signed_in(archivist).get(f"/desk/interviews/{interview.pk}/"))
    assert "It arrived damaged." in desk
    assert "A part arrived different from the file on the volunteer's computer." in desk
    browser.post(page("part-remove", damaged.pk))
    again = a_part_stored(interview, a_wav())
    assert parts_of(interview) == [again]
    assert "arrived damaged" not in text_of(see(browser, interview))


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (a_wav()[:-4000], "The end of this file is missing"),  # its header promises more than there is
        (a_wav()[:30], "could not be read as sound"),  # cut in the middle of its header
    ],
)
def test_a_file_that_is_cut_short_is_told_and_the_card_is_kept(browser, interview, content, told):
    part = a_part_stored(interview, content)
    run_jobs()
    seen = text_of(see(browser, interview))
    assert "Keep the recorder's card as it is: TOLL0007.WAV may not be whole" in seen
    assert told in seen or told in text_of(browser.get(page("part-detail", part.pk)))
