"""The resumable upload protocol over HTTP: first bytes in the beginning, expiry, and uploads joined of others.

Source: tus resumable upload protocol 1.0.0 (2016-03-25), protocol.md, extensions creation-with-upload, expiration and
concatenation; "ours" marks what it leaves to the server.
"""

from datetime import timedelta
from email.utils import parsedate_to_datetime

import pytest
from django.test import Client
from django.utils import timezone

from intake.files.models import Upload, UploadState
from intake.files.services import is_proven
from intake.jobs.models import Kind
from tests.factories import a_started_interview, run_jobs, sha256
from tests.portal.tus import (
    CONTENT,
    OFFSET_TYPE,
    VERSION,
    begin_by_program,
    checksum,
    create,
    head,
    metadata,
    patch,
    stored_offset,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def begin(interview, volunteer):
    """Begins uploads of one interview as a program does; gives the whole answer."""

    def ask(**headers):
        return begin_by_program(Client(), interview, volunteer, **headers)

    return ask


# Creation with upload


@pytest.mark.parametrize("content", [CONTENT, CONTENT[:4]], ids=["all", "some"])
def test_the_first_bytes_may_come_with_the_beginning(begin, content):
    """Creation with upload, POST: 201 with Location and the Upload-Offset of what was taken."""
    answer = begin(content=content)
    assert (answer.status_code, answer["Upload-Offset"]) == (201, str(len(content)))
    assert head(Client(), answer["Location"]).get("Upload-Offset") == str(len(content))


def test_bytes_of_another_type_are_not_taken_for_the_first_ones(begin):
    """Creation with upload, POST: the body is a piece only as application/offset+octet-stream."""
    answer = begin(content=CONTENT, content_type="audio/wav")
    assert (answer.status_code, answer["Upload-Offset"]) == (201, "0")


def test_damaged_first_bytes_leave_an_upload_to_go_on_with(begin):
    """Ours, with the checksum extension: 460 as for every piece, and where to send it again."""
    answer = begin(content=CONTENT, **checksum(b"something else"))
    assert answer.status_code == 460
    assert patch(Client(), answer["Location"], CONTENT).status_code == 204


# Expiration


def test_every_answer_about_an_unfinished_upload_says_until_when(browser, interview, settings):
    """Expiration, Upload-Expires: in POST and PATCH while it is unfinished, an HTTP date; each piece moves it on."""
    created = create(browser, interview)
    Upload.objects.update(expires_at=timezone.now() + timedelta(hours=1))
    patched = patch(browser, created["Location"], CONTENT[:4])
    assert until(head(browser, created["Location"])) == until(patched)
    for answer in (created, patched):
        days = (until(answer) - timezone.now()) / timedelta(days=1)
        assert days == pytest.approx(settings.UPLOAD_EXPIRES_DAYS, abs=0.01)
    assert "Upload-Expires" not in patch(browser, created["Location"], CONTENT[4:], offset=4)


def test_nothing_is_added_after_that(browser, address):
    Upload.objects.update(expires_at=timezone.now() - timedelta(seconds=1))
    assert patch(browser, address, CONTENT).status_code == 409
    assert stored_offset() == 0


def test_what_was_cleared_is_gone(browser, address):
    """Expiration: 404 or 410 for what the server has removed; 410 where it knows."""
    Upload.objects.update(state=UploadState.EXPIRED)
    for answer in (head(browser, address), patch(browser, address, CONTENT), browser.delete(address, headers=VERSION)):
        assert answer.status_code == 410
        assert "Upload-Offset" not in answer


def until(answer):
    return parsedate_to_datetime(answer["Upload-Expires"])


# Concatenation


PARTIAL = {"Upload-Concat": "partial"}


@pytest.fixture
def partials(begin) -> list[str]:
    """Two partial uploads that are complete, of four bytes and of six."""
    addresses = []
    for content in (CONTENT[:4], CONTENT[4:]):
        addresses.append(begin(length=len(content), described="", **PARTIAL)["Location"])
        patch(Client(), addresses[-1], content, **checksum(content))
    return addresses


def final(*addresses: str) -> dict[str, str]:
    return {"Upload-Concat": f"final;{' '.join(addresses)}"}


def test_partial_uploads_become_one(begin, partials, interview):
    """Concatenation: POST final without Upload-Length; HEAD with the sum, and which ones it was made of."""
    joined = begin(length=None, **final(*partials))
    assert joined.status_code == 201
    told = head(Client(), joined["Location"])
    assert (told["Upload-Offset"], told["Upload-Length"]) == ("10", "10")
    assert told["Upload-Concat"] == final(*partials)["Upload-Concat"]
    run_jobs(Kind.STORE_UPLOAD)
    part = interview.parts.get()
    assert (part.file.sha256, is_proven(part.file)) == (sha256(CONTENT), True)


def test_the_order_is_the_one_that_is_asked_for(begin, partials, interview):
    begin(length=None, **final(*reversed(partials)))
    run_jobs(Kind.STORE_UPLOAD)
    assert interview.parts.get().file.sha256 == sha256(CONTENT[4:] + CONTENT[:4])


def test_whole_addresses_are_known_as_well_as_their_paths(begin, partials):
    """Concatenation, Upload-Concat: a list of absolute or relative addresses."""
    whole = [f"http://testserver{partials[0]}", partials[1]]
    assert begin(length=None, **final(*whole)).status_code == 201


def test_a_partial_upload_is_no_part_and_says_what_it_is(begin, partials, interview):
    """Concatenation: Upload-Concat in the answer to HEAD; what is partial is not a finished upload."""
    assert head(Client(), partials[0])["Upload-Concat"] == "partial"
    run_jobs(Kind.STORE_UPLOAD)
    assert not interview.parts.exists()


def test_a_joined_upload_takes_no_pieces(begin, partials):
    """Concatenation: PATCH against a final upload is 403."""
    joined = begin(length=None, **final(*partials))["Location"]
    assert patch(Client(), joined, b"more", offset=10).status_code == 403


def test_a_joined_upload_takes_its_length_from_its_parts(begin, partials):
    """Concatenation: the client must not send Upload-Length."""
    assert begin(length=10, **final(*partials)).status_code == 400


def test_an_unfinished_part_is_not_joined(begin, partials):
    """Ours: concatenation-unfinished is not offered, so the rest has to be there first."""
    unfinished = begin(length=8, described="", **PARTIAL)["Location"]
    answer = begin(length=None, **final(*partials, unfinished))
    assert answer.status_code == 422
    assert "send the rest first" in answer.content.decode()
    assert begin(length=None, **final(*partials)).status_code == 201, "the refusal took nothing away"


def test_a_part_is_joined_once(begin, partials, interview):
    begin(length=None, **final(*partials))
    assert begin(length=None, **final(partials[0])).status_code == 422
    assert interview.parts.count() == 1


@pytest.mark.parametrize("header", ["final", "final;", "whole", "final;/nowhere", "final;/uploads/"])
def test_a_list_that_is_none_is_a_bad_request(begin, header):
    assert begin(length=None, **{"Upload-Concat": header}).status_code == 400


def test_the_parts_of_another_are_not_taken(partials, other_volunteer):
    """Ours: an address is the right to an upload, not the right to hand it in as one's own."""
    elsewhere = a_started_interview(other_volunteer)
    answer = begin_by_program(Client(), elsewhere, other_volunteer, length=None, **final(*partials))
    assert answer.status_code == 400
    assert not elsewhere.parts.exists()


def test_metadata_of_partial_uploads_is_not_taken_over(begin, partials):
    """Concatenation: the final upload's own Upload-Metadata holds."""
    joined = begin(length=None, described=metadata(filename="TOLL0008.WAV"), **final(*partials))
    assert head(Client(), joined["Location"])["Upload-Metadata"] == metadata(filename="TOLL0008.WAV")
    assert Upload.objects.get(is_partial=False).name == "TOLL0008.WAV"


def test_content_type_alone_makes_no_piece(begin):
    """Creation with upload: an empty body of that type begins at nothing."""
    answer = begin(content=b"", content_type=OFFSET_TYPE)
    assert (answer.status_code, answer["Upload-Offset"]) == (201, "0")
