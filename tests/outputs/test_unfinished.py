"""Uploads that nobody goes on with: told of in time, cleared afterwards, and never while they grow."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from intake.audit.actions import Action
from intake.audit.services import story_of
from intake.files import storage
from intake.files.models import Upload, UploadState
from intake.jobs.models import Job, Kind
from intake.jobs.services import sweep
from intake.mail.models import Message
from intake.outputs import unfinished
from intake.workflow import withdraw
from tests.factories import a_part_arriving, a_part_stored, a_started_interview, an_attachment_arriving, at_time, send
from tests.pages import signed_in, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def part(volunteer):
    part = a_part_arriving(a_started_interview(volunteer), b"0123456789")
    send(part.upload, b"01234")
    part.refresh_from_db()
    return part


def letters() -> list[Message]:
    return list(Message.objects.filter(key__startswith="unfinished-"))


def days(count: float):
    return timezone.now() + timedelta(days=count)


def test_nothing_is_said_while_there_is_time(part):
    assert not unfinished.is_due(days(11))
    assert unfinished.warn(days(11)) == 0
    assert letters() == []


def test_two_days_before_its_owner_is_written_to_once(part):
    an_attachment_arriving(part.interview, b"x" * 700, "porch.jpg")
    assert unfinished.is_due(days(12.5))
    assert unfinished.warn(days(12.5)) == 2
    assert unfinished.warn(days(12.5)) == 0
    (letter,) = letters()
    assert letter.to == "tobias@example.org"
    assert "TOLL0007.WAV: 5 bytes of 10 bytes" in letter.text
    assert "porch.jpg: 0 bytes of 700 bytes" in letter.text
    assert f"/interviews/{part.interview_id}/" in letter.text


def test_nothing_is_said_of_an_interview_that_takes_no_more_files(part, volunteer):
    withdraw(part.interview_id, reason="The narrator asked for it.", actor=volunteer)
    unfinished.warn(days(12.5))
    assert letters() == []


def test_a_piece_moves_the_day_on_and_a_new_word_is_said_later(part):
    unfinished.warn(days(12.5))
    with at_time(days(13)):
        send(part.upload, b"5678", offset=5)
    assert not unfinished.is_due(days(15))
    assert unfinished.warn(days(26)) == 1
    assert len(letters()) == 2


def test_what_has_expired_is_cleared_and_says_so(part, volunteer, django_capture_on_commit_callbacks):
    path = storage.staging_path(part.upload_id)
    assert path.exists()
    with django_capture_on_commit_callbacks(execute=True):
        assert unfinished.clear(days(15)) == 1
    assert unfinished.clear(days(15)) == 0
    assert not path.exists()
    assert Upload.objects.get().state == UploadState.EXPIRED
    event = story_of(part.interview).get(action=Action.UPLOAD_EXPIRED)
    assert (event.details["bytes_arrived"], event.details["bytes"]) == (5, 10)
    page = text_of(signed_in(volunteer).get(reverse("portal:interview-detail", args=[part.interview_id])))
    assert "It was not gone on with in time. Take this part out and hand the file in again." in page


def test_what_is_stored_or_still_has_time_is_never_cleared(part):
    a_part_stored(part.interview, name="TOLL0008.WAV")
    assert unfinished.clear(days(13)) == 0
    unfinished.clear(days(15))
    assert Upload.objects.get(name="TOLL0008.WAV").state == UploadState.STORED


def test_the_sweep_asks_for_it_when_it_is_due(part):
    sweep()
    assert not Job.objects.filter(kind=Kind.CLEAR_UPLOADS).exists()
    with at_time(days(13)):
        sweep()
    assert Job.objects.filter(kind=Kind.CLEAR_UPLOADS).count() == 1
