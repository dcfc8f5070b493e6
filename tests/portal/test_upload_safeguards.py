"""The resumable upload protocol over HTTP: checksums, stopping, who may send, and the digest of the whole.

Source: tus resumable upload protocol 1.0.0 (2016-03-25), protocol.md; "ours" marks what it leaves to the server.
"""

import pytest
from django.core.files.storage import storages
from django.test import Client
from django.urls import reverse

from intake.files import storage
from intake.files.models import Upload, UploadState
from intake.jobs.models import Kind
from intake.workflow import submit
from tests.factories import a_part_stored, run_jobs, sha256
from tests.portal.tus import CONTENT, VERSION, checksum, create, head, patch, stored_offset

pytestmark = pytest.mark.django_db


# Checksum


@pytest.mark.parametrize("algorithm", ["sha1", "sha256"])
def test_a_piece_is_checked(browser, address, algorithm):
    assert patch(browser, address, CONTENT[:4], **checksum(CONTENT[:4], algorithm)).status_code == 204
    assert stored_offset() == 4


@pytest.mark.parametrize("algorithm", ["sha1", "sha256"])
def test_a_damaged_piece_is_discarded(browser, address, algorithm):
    """Checksum: 460, the chunk discarded and the offset not updated."""
    patch(browser, address, CONTENT[:4])
    answer = patch(browser, address, b"456x89", offset=4, **checksum(CONTENT[4:], algorithm))
    assert answer.status_code == 460
    assert head(browser, address)["Upload-Offset"] == "4"


@pytest.mark.parametrize("header", ["md5 1B2M2Y8AsgTpgAmY7PhCfg==", "crc32 AAAA", "", "sha256 ***", "sha256 ü"])
def test_a_checksum_that_is_not_understood_is_a_bad_request(browser, address, header):
    """Checksum: 400 for an algorithm that is not supported; the offset not updated."""
    assert patch(browser, address, CONTENT, **{"Upload-Checksum": header}).status_code == 400
    assert stored_offset() == 0


# Termination


def test_an_upload_is_stopped(browser, interview, address, django_capture_on_commit_callbacks):
    """Termination, DELETE: 204, resources freed; later requests 404 or 410."""
    patch(browser, address, CONTENT[:4])
    with django_capture_on_commit_callbacks(execute=True):
        assert browser.delete(address, headers=VERSION).status_code == 204
    assert not storage.staging_path(Upload.objects.get().pk).exists()
    assert head(browser, address).status_code == 410
    assert "Upload-Offset" not in head(browser, address)
    assert patch(browser, address, CONTENT[4:], offset=4).status_code == 410
    assert browser.delete(address, headers=VERSION).status_code == 410
    assert not interview.parts.filter(position__isnull=False).exists()


def test_what_has_been_stored_is_not_deleted(browser, volunteer, interview):
    """Ours: termination may apply to finished uploads; here a stored recording stays with the library."""
    part = a_part_stored(interview)
    answer = browser.delete(reverse("portal:upload", args=[part.upload_id]), headers=VERSION)
    assert answer.status_code == 403
    assert storages["primary"].exists(part.file.key)
    submit(interview.pk, actor=volunteer)
    assert browser.delete(reverse("portal:upload", args=[part.upload_id]), headers=VERSION).status_code == 403


# Who may


def test_somebody_signed_out_is_told_so(address):
    """Ours: 401 instead of a redirect, which a client would follow and take for an answer."""
    stranger = Client()
    for answer in (
        head(stranger, address),
        patch(stranger, address, CONTENT),
        stranger.delete(address, headers=VERSION),
        stranger.post(reverse("portal:uploads"), headers={**VERSION, "Upload-Length": "1"}),
        stranger.post(f"{address}digest/", {"sha256": sha256(CONTENT)}),
    ):
        assert answer.status_code == 401
    assert stored_offset() == 0


@pytest.mark.parametrize("who", ["other_volunteer", "archivist"])
def test_nobody_else_reaches_an_upload(request, address, who):
    """Ours: not even staff send to a volunteer's upload, or learn how far it is."""
    another = Client()
    another.force_login(request.getfixturevalue(who))
    for answer in (
        head(another, address),
        patch(another, address, CONTENT),
        another.delete(address, headers=VERSION),
        another.post(f"{address}digest/", {"sha256": sha256(CONTENT)}),
    ):
        assert answer.status_code == 404
        assert "Upload-Offset" not in answer
    assert (stored_offset(), Upload.objects.get().declared_sha256) == (0, "")


def test_a_form_token_is_needed_for_everything_that_acts(address, interview, volunteer):
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(volunteer)
    assert create(strict, interview).status_code == 403
    assert patch(strict, address, CONTENT).status_code == 403
    assert strict.delete(address, headers=VERSION).status_code == 403
    assert strict.post(f"{address}digest/", {"sha256": sha256(CONTENT)}).status_code == 403
    assert head(strict, address).status_code == 200
    assert (stored_offset(), Upload.objects.count()) == (0, 1)


def test_with_the_form_token_in_a_header_pieces_are_taken(address, interview, volunteer):
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(volunteer)
    strict.get(reverse("portal:interview-detail", args=[interview.pk]))
    token = {"X-CSRFToken": strict.cookies["csrftoken"].value}
    assert patch(strict, address, CONTENT, **token).status_code == 204
    assert create(strict, interview, **token).status_code == 201


# The digest of the whole, ours


def test_the_digest_of_the_whole_is_noted_and_the_file_stored(browser, address, interview):
    patch(browser, address, CONTENT, **checksum(CONTENT))
    answer = browser.post(f"{address}digest/", {"sha256": sha256(CONTENT).upper()})
    assert answer.status_code == 204
    run_jobs(Kind.STORE_UPLOAD)
    upload = Upload.objects.get()
    assert (upload.state, upload.file.sha256) == (UploadState.STORED, sha256(CONTENT))


@pytest.mark.parametrize("wrong", ["", "abc", "g" * 64])
def test_a_digest_that_is_none_is_refused_in_a_sentence(browser, address, wrong):
    answer = browser.post(f"{address}digest/", {"sha256": wrong})
    assert answer.status_code == 409
    assert "64 hexadecimal digits" in answer.content.decode()


def test_a_second_digest_that_differs_is_refused_in_a_sentence(browser, address):
    browser.post(f"{address}digest/", {"sha256": sha256(CONTENT)})
    answer = browser.post(f"{address}digest/", {"sha256": sha256(b"x")})
    assert answer.status_code == 409
    assert "has changed since" in answer.content.decode()


def test_nothing_is_sent_to_what_is_stored(browser, interview):
    part = a_part_stored(interview)
    address = reverse("portal:upload", args=[part.upload_id])
    assert patch(browser, address, b"more", offset=part.upload.length).status_code == 409
    assert head(browser, address)["Upload-Offset"] == str(part.upload.length)
