"""The resumable upload protocol over HTTP.

Source: tus resumable upload protocol 1.0.0 (2016-03-25), protocol.md: core, and the extensions creation, checksum and
termination. Each test names the part that it follows; "ours" marks what the protocol leaves to the server.
"""

import pytest
from django.test import Client
from django.urls import reverse

from intake.files import storage
from intake.files.models import Upload, UploadState
from intake.interviews.models import State
from intake.portal.capabilities import upload_address
from tests.factories import an_interview
from tests.portal.tus import CONTENT, OFFSET_TYPE, VERSION, create, head, metadata, patch, stored_offset

pytestmark = pytest.mark.django_db
EXTENSIONS = {"creation", "creation-with-upload", "expiration", "checksum", "termination", "concatenation"}


# Core


@pytest.mark.parametrize("place", ["create", "upload"])
def test_options_tells_what_the_server_can_do(client, address, place, settings):
    """Core, OPTIONS: Tus-Version, Tus-Extension, Tus-Max-Size in bytes. Checksum: Tus-Checksum-Algorithm."""
    answer = client.options(reverse("portal:uploads") if place == "create" else address)
    assert answer.status_code == 204
    assert answer["Tus-Version"] == "1.0.0"
    assert set(answer["Tus-Extension"].split(",")) == EXTENSIONS
    assert answer["Tus-Max-Size"] == str(settings.UPLOAD_MAX_BYTES)
    assert "sha1" in answer["Tus-Checksum-Algorithm"].split(",")  # the one that is required
    assert answer["Tus-Checksum-Algorithm"] == answer["Tus-Checksum-Algorithm"].lower()


def test_options_ignores_the_version_asked_for(client):
    """Core, OPTIONS: the client's Tus-Resumable must be ignored."""
    assert client.options(reverse("portal:uploads"), headers={"Tus-Resumable": "9.9"}).status_code == 204


@pytest.mark.parametrize("version", [None, "0.2.2", "1.0", "1.0.1"])
def test_another_version_is_not_processed(browser, address, version):
    """Core, Tus-Resumable: 412 with Tus-Version, and the request must not be processed."""
    wrong = {"Tus-Resumable": version} if version else {}
    answers = [
        browser.post(reverse("portal:uploads"), headers={**wrong, "Upload-Length": "1"}),
        browser.head(address, headers=wrong),
        browser.patch(address, CONTENT, content_type=OFFSET_TYPE, headers={**wrong, "Upload-Offset": "0"}),
        browser.delete(address, headers=wrong),
    ]
    assert [answer.status_code for answer in answers] == [412] * 4
    assert {answer["Tus-Version"] for answer in answers} == {"1.0.0"}
    assert (Upload.objects.count(), stored_offset()) == (1, 0)


def test_every_answer_carries_the_version(browser, client, interview, address):
    """Core, Tus-Resumable: in every response; here with errors, too."""
    answers = [
        create(browser, interview),
        create(browser, interview, length="many"),
        head(browser, address),
        patch(browser, address, CONTENT, offset=3),
        patch(browser, address, CONTENT),
        browser.get(address, headers=VERSION),
        browser.delete(address, headers=VERSION),
        head(browser, address),
        Client().head(address, headers=VERSION),
        client.options(address),
    ]
    assert {answer["Tus-Resumable"] for answer in answers} == {"1.0.0"}


def test_head_tells_how_far_the_upload_is(browser, address):
    """Core, HEAD: Upload-Offset always, even 0; Upload-Length if known; Cache-Control: no-store."""
    answer = head(browser, address)
    assert answer.status_code == 200
    assert (answer["Upload-Offset"], answer["Upload-Length"], answer["Cache-Control"]) == ("0", "10", "no-store")
    patch(browser, address, CONTENT[:4])
    assert head(browser, address)["Upload-Offset"] == "4"
    patch(browser, address, CONTENT[4:], offset=4)
    assert head(browser, address)["Upload-Offset"] == "10"


def test_an_unknown_upload_is_not_found(browser):
    """Core, HEAD: 404, 410 or 403 without Upload-Offset; PATCH: 404."""
    nowhere = reverse("portal:upload", args=["00000000-0000-0000-0000-000000000000", "0" * 40])
    answer = head(browser, nowhere)
    assert answer.status_code == 404
    assert "Upload-Offset" not in answer
    assert patch(browser, nowhere, CONTENT).status_code == 404
    assert browser.delete(nowhere, headers=VERSION).status_code == 404


def test_a_piece_is_added_where_the_last_one_ended(browser, address):
    """Core, PATCH: 204 with the new Upload-Offset, the sum of the old one and the bytes stored."""
    first = patch(browser, address, CONTENT[:4])
    assert (first.status_code, first["Upload-Offset"], first.content) == (204, "4", b"")
    second = patch(browser, address, CONTENT[4:], offset=4)
    assert (second.status_code, second["Upload-Offset"]) == (204, "10")
    assert storage.staging_path(Upload.objects.get().pk).read_bytes() == CONTENT


@pytest.mark.parametrize("offset", [3, 5, 10])
def test_a_piece_at_another_offset_conflicts(browser, address, offset):
    """Core, PATCH: 409, and the upload must not be modified."""
    patch(browser, address, CONTENT[:4])
    assert patch(browser, address, CONTENT[4:], offset=offset).status_code == 409
    assert stored_offset() == 4


@pytest.mark.parametrize("content_type", ["application/octet-stream", "text/plain", "audio/wav"])
def test_a_piece_of_another_type_is_not_taken(browser, address, content_type):
    """Core, PATCH: all requests must be of type application/offset+octet-stream, otherwise 415."""
    assert patch(browser, address, CONTENT, content_type=content_type).status_code == 415
    assert stored_offset() == 0


@pytest.mark.parametrize("offset", ["", "-1", "1.5", "0x1", "abc", "٣", "1" * 30, " "])
def test_an_offset_that_is_no_whole_number_is_a_bad_request(browser, address, offset):
    """Core, Upload-Offset: must be a non-negative integer."""
    assert patch(browser, address, CONTENT, offset=offset).status_code == 400
    assert stored_offset() == 0


def test_a_piece_without_an_offset_is_a_bad_request(browser, address):
    answer = browser.patch(address, CONTENT, content_type=OFFSET_TYPE, headers=VERSION)
    assert answer.status_code == 400


def test_more_than_was_announced_is_not_taken(browser, address):
    """Ours: the protocol does not name a status for it."""
    assert patch(browser, address, CONTENT + b"!").status_code == 409
    assert stored_offset() == 0


def test_a_piece_while_another_is_being_written_is_told_to_wait(browser, address):
    """Ours: 423 (RFC 4918, section 11.3), upon which clients try again later."""
    with storage.staging_file(Upload.objects.get().pk):
        assert patch(browser, address, CONTENT).status_code == 423
    assert patch(browser, address, CONTENT).status_code == 204


@pytest.mark.parametrize(("override", "status"), [("PATCH", 204), ("DELETE", 204), ("HEAD", 200), ("OPTIONS", 204)])
def test_another_method_can_be_meant(browser, address, override, status):
    """Core, X-HTTP-Method-Override: if present, it must be taken as the method, the real one ignored."""
    meant = {**VERSION, "X-HTTP-Method-Override": override, "Upload-Offset": "0"}
    answer = browser.post(address, CONTENT, content_type=OFFSET_TYPE, headers=meant)
    assert answer.status_code == status
    assert Upload.objects.get().state == (UploadState.STOPPED if override == "DELETE" else UploadState.RECEIVING)
    assert stored_offset() == (10 if override == "PATCH" else 0)


def test_another_method_can_be_meant_by_post_alone(browser, address):
    """Ours: a link or a picture on another site makes GET requests, and must not become a DELETE."""
    assert browser.get(address, headers={**VERSION, "X-HTTP-Method-Override": "DELETE"}).status_code == 405
    assert Upload.objects.get().state == UploadState.RECEIVING


@pytest.mark.parametrize("method", ["get", "put", "post"])
def test_other_methods_are_not_allowed(browser, address, method):
    """RFC 9110, section 15.5.6: 405 with Allow."""
    answer = getattr(browser, method)(address, headers=VERSION)
    assert answer.status_code == 405
    assert "PATCH" in answer["Allow"]
    assert browser.get(reverse("portal:uploads"), headers=VERSION).status_code == 405


# Creation


def test_an_upload_is_created_with_its_part(browser, interview, volunteer):
    """Creation, POST: 201 with Location."""
    answer = create(browser, interview)
    upload = Upload.objects.get()
    assert answer.status_code == 201
    assert answer["Location"] == upload_address(upload)
    assert (upload.owner, upload.name, upload.media_type, upload.length) == (
        volunteer,
        "TOLL0007.WAV",
        "audio/wav",
        10,
    )
    assert upload.part.interview == interview


@pytest.mark.parametrize("length", ["", "-1", "1.5", "abc", "1" * 30])
def test_a_length_that_is_no_whole_number_is_a_bad_request(browser, interview, length):
    """Core, Upload-Length: must be a non-negative integer."""
    assert create(browser, interview, length=length).status_code == 400
    assert not Upload.objects.exists()
    assert not interview.parts.exists()


def test_a_length_to_follow_is_not_offered(browser, interview):
    """Creation: without the extension creation-defer-length, Upload-Length is needed."""
    answer = browser.post(
        reverse("portal:uploads"),
        headers={**VERSION, "Upload-Defer-Length": "1", "Upload-Metadata": metadata(interview=interview.pk)},
    )
    assert answer.status_code == 400


def test_a_file_over_the_limit_is_too_large(browser, interview, settings):
    """Creation, POST: 413 if Upload-Length exceeds Tus-Max-Size."""
    settings.UPLOAD_MAX_BYTES = 9
    answer = create(browser, interview)
    assert answer.status_code == 413
    assert "larger than this site takes in" in answer.content.decode()
    assert not interview.parts.exists()


def test_an_empty_file_is_refused_in_a_sentence(browser, interview):
    """Ours: the protocol would allow it; there is no sound in it."""
    answer = create(browser, interview, length=0)
    assert answer.status_code == 422
    assert "is empty" in answer.content.decode()


def test_a_full_disk_is_told_in_a_sentence(browser, interview, monkeypatch):
    """Ours: 507 (RFC 4918, section 11.5)."""
    monkeypatch.setattr(storage, "disks", lambda: [(("staging", "primary", "replica"), 20)])
    answer = create(browser, interview)
    assert answer.status_code == 507
    assert "full" in answer.content.decode()
    assert not interview.parts.exists()


def test_the_metadata_comes_back_as_it_was_given(browser, interview):
    """Creation, Upload-Metadata: HEAD must include it as given. A key may stand without a value."""
    given = metadata(filename="Überfahrt.wav", interview=interview.pk) + ",is_private"
    address = create(browser, interview, described=given)["Location"]
    assert head(browser, address)["Upload-Metadata"] == given
    assert Upload.objects.get().name == "Überfahrt.wav"


@pytest.mark.parametrize(
    "wrong",
    [
        "filename %%%",
        "filename AAA",  # not padded
        "filename /w==",  # not UTF-8
        "filename YQ== YQ==",
        "filename YQ==,filename Yg==",
        "interview ü",
    ],
)
def test_metadata_that_is_none_is_a_bad_request(browser, interview, wrong):
    """Creation, Upload-Metadata: keys unique, each with at most one value, which must be Base64."""
    given = f"{metadata(interview=interview.pk)},{wrong}"
    assert create(browser, interview, described=given).status_code == 400
    assert not Upload.objects.exists()


def test_a_path_in_the_name_is_left_behind(browser, interview):
    """Creation, Upload-Metadata: should be validated and sanitised before use."""
    given = metadata(filename="..\\..\\evil\r\n.wav", filetype="text/html\r\nX: y", interview=interview.pk)
    create(browser, interview, described=given)
    upload = Upload.objects.get()
    assert (upload.name, upload.media_type) == ("evil.wav", "application/octet-stream")


@pytest.mark.parametrize("number", ["", "abc", "-1", "999999999", "1" * 30, "1 OR 1=1", "²"])
def test_an_upload_belongs_to_an_interview_that_is_known(browser, interview, number):
    given = metadata(filename="x.wav", interview=number)
    assert create(browser, interview, described=given).status_code == 404


def test_nothing_is_handed_in_to_the_interview_of_another(client, interview, other_volunteer):
    client.force_login(other_volunteer)
    assert create(client, interview).status_code == 404
    assert not interview.parts.exists()


def test_nothing_is_handed_in_while_the_library_has_the_interview(browser, volunteer):
    interview = an_interview(State.SUBMITTED, owner=volunteer)
    answer = create(browser, interview)
    assert answer.status_code == 422
    assert "with the library now" in answer.content.decode()
    assert interview.parts.count() == 1
