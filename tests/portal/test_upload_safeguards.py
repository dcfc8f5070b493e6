"""The resumable upload protocol over HTTP: checksums, stopping, who may send, and the digest of the whole.

Source: tus resumable upload protocol 1.0.0 (2016-03-25), protocol.md; "ours" marks what it leaves to the server.
"""

import time
from unittest.mock import patch as replaced

import pytest
from django.core.files.storage import storages
from django.test import Client
from django.urls import reverse

from intake.files import storage, uploads
from intake.files.models import StoredFile, Upload, UploadState
from intake.files.services import is_proven, is_safe
from intake.jobs.models import Kind
from intake.portal.capabilities import PROGRAM_DAYS, program_address, upload_address
from intake.qc.services import may_be_cleared
from intake.workflow import submit, withdraw
from tests.factories import a_part_stored, a_started_interview, run_jobs, sha256
from tests.portal.tus import CONTENT, VERSION, begin_by_program, checksum, create, head, metadata, patch, stored_offset

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
    answer = browser.delete(upload_address(part.upload), headers=VERSION)
    assert answer.status_code == 403
    assert storages["primary"].exists(part.file.key)
    submit(interview.pk, actor=volunteer)
    assert browser.delete(upload_address(part.upload), headers=VERSION).status_code == 403


# Who may


def test_only_somebody_signed_in_begins_an_upload(interview):
    """Ours: 401 instead of a redirect, which a client would follow and take for an answer."""
    assert create(Client(), interview).status_code == 401
    assert not Upload.objects.exists()


def test_the_address_of_an_upload_is_the_right_to_it(address):
    """Ours: it outlives the sign-in, and any client can be handed it."""
    anybody = Client(enforce_csrf_checks=True)
    assert head(anybody, address)["Upload-Offset"] == "0"
    assert patch(anybody, address, CONTENT, **checksum(CONTENT)).status_code == 204
    assert anybody.post(f"{address}digest/", {"sha256": sha256(CONTENT)}).status_code == 204
    assert Upload.objects.get().state == UploadState.RECEIVED


@pytest.mark.parametrize("who", [None, "volunteer", "other_volunteer", "archivist"])
def test_without_the_key_in_it_nobody_reaches_an_upload(request, address, who):
    """Ours: not even whoever began it, or staff, by the number of the upload alone."""
    made_up = f"{address[:-2]}{'0' if address[-2] != '0' else '1'}/"
    client = Client()
    if who:
        client.force_login(request.getfixturevalue(who))
    for answer in (
        head(client, made_up),
        patch(client, made_up, CONTENT),
        client.delete(made_up, headers=VERSION),
        client.post(f"{made_up}digest/", {"sha256": sha256(CONTENT)}),
    ):
        assert answer.status_code == 404
        assert "Upload-Offset" not in answer
    assert (stored_offset(), Upload.objects.get().declared_sha256) == (0, "")


def test_the_right_ends_with_the_account(address, volunteer):
    volunteer.is_active = False
    volunteer.save()
    assert patch(Client(), address, CONTENT).status_code == 404


def test_the_right_goes_along_into_other_hands(address, other_volunteer):
    upload = Upload.objects.get()
    uploads.change_owner([upload.pk], to=other_volunteer)
    assert patch(Client(), address, CONTENT).status_code == 404
    upload.refresh_from_db()
    assert patch(Client(), upload_address(upload), CONTENT).status_code == 204


def test_a_form_token_is_needed_to_begin(interview, volunteer):
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(volunteer)
    assert create(strict, interview).status_code == 403
    strict.get(reverse("portal:interview-detail", args=[interview.pk]))
    token = {"X-CSRFToken": strict.cookies["csrftoken"].value}
    assert create(strict, interview, **token).status_code == 201


# A program's address, ours


def test_a_program_begins_parts_of_one_interview(interview, volunteer, other_volunteer):
    strict = Client(enforce_csrf_checks=True)
    elsewhere = a_started_interview(other_volunteer)
    answer = begin_by_program(
        strict, interview, volunteer, described=metadata(filename="a.wav", interview=elsewhere.pk, purpose="scan")
    )
    assert answer.status_code == 201
    part = interview.parts.get()
    assert (part.upload.owner, part.upload.name, elsewhere.parts.count()) == (volunteer, "a.wav", 0)


def test_a_program_that_declares_no_digest_is_believed_by_its_checksums(interview, volunteer):
    where = begin_by_program(Client(), interview, volunteer, described=metadata(filename="a.wav"))["Location"]
    patch(Client(), where, CONTENT, **checksum(CONTENT, "sha1"))
    run_jobs(Kind.STORE_UPLOAD)
    file = Upload.objects.get().file
    assert (file.sha256, is_proven(file)) == (sha256(CONTENT), True)


def test_without_any_checksum_it_is_stored_and_not_proven(interview, volunteer):
    where = begin_by_program(Client(), interview, volunteer, described=metadata(filename="a.wav"))["Location"]
    patch(Client(), where, CONTENT[:4], **checksum(CONTENT[:4]))
    patch(Client(), where, CONTENT[4:], offset=4)
    run_jobs(Kind.STORE_UPLOAD)
    file = Upload.objects.get().file
    assert (is_safe(file), is_proven(file), may_be_cleared(file)) == (True, False, False)
    assert Client().post(f"{where}digest/", {"sha256": sha256(b"x")}).status_code == 409
    assert not is_proven(StoredFile.objects.get())
    assert Client().post(f"{where}digest/", {"sha256": sha256(CONTENT)}).status_code == 204
    assert is_proven(StoredFile.objects.get())


def test_a_digest_declared_at_the_beginning_is_compared(interview, volunteer):
    described = metadata(filename="a.wav", sha256=sha256(b"what the volunteer has"))
    where = begin_by_program(Client(), interview, volunteer, described=described)["Location"]
    patch(Client(), where, CONTENT)
    run_jobs(Kind.STORE_UPLOAD)
    assert Upload.objects.get().state == UploadState.DAMAGED
    assert (
        begin_by_program(Client(), interview, volunteer, described=metadata(filename="a", sha256="abc")).status_code
        == 400
    )


def test_a_programs_address_ends(interview, volunteer):
    described = metadata(filename="a.wav")
    forged = program_address(interview.pk, volunteer)[:-2] + "x/"
    assert Client().post(forged, headers={**VERSION, "Upload-Length": "1"}).status_code == 404
    with replaced("django.core.signing.time.time", return_value=time.time() - (PROGRAM_DAYS + 1) * 24 * 3600):
        old = program_address(interview.pk, volunteer)
    assert Client().post(old, headers={**VERSION, "Upload-Length": "1"}).status_code == 404
    withdraw(interview.pk, reason="A mistake.", actor=volunteer)
    assert begin_by_program(Client(), interview, volunteer, described=described).status_code == 422
    volunteer.is_active = False
    volunteer.save()
    assert begin_by_program(Client(), interview, volunteer, described=described).status_code == 404


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
    address = upload_address(part.upload)
    assert patch(browser, address, b"more", offset=part.upload.length).status_code == 409
    assert head(browser, address)["Upload-Offset"] == str(part.upload.length)
