"""Attachments on the volunteer's pages: the one upload protocol, captions, taking out, and how a file is served."""

import pytest
from django.urls import reverse

from intake import workflow
from intake.files.models import Upload, UploadState
from intake.interviews.models import Attachment, State
from tests.factories import (
    a_form_typed_in,
    a_photograph,
    an_attachment_arriving,
    an_attachment_stored,
    an_interview,
    narrator_of,
    run_jobs,
    sha256,
)
from tests.pages import actions_of, links_of, signed_in, text_of
from tests.portal.pages import page, see
from tests.portal.tus import VERSION, create, head, metadata, patch

pytestmark = pytest.mark.django_db


def described(interview, **changed: object) -> str:
    said = {"kind": "field-notes", "caption": "Written on the ferry", "rights_note": "Mine"}
    return metadata(
        **{"filename": "notes.txt", "filetype": "text/html", "purpose": "attachment", "interview": interview.pk, **said}
        | changed
    )


def test_an_attachment_comes_in_by_the_upload_protocol(browser, interview):
    content = b"Fog until ten."
    address = create(browser, interview, length=len(content), described=described(interview))["Location"]
    assert patch(browser, address, content).status_code == 204
    assert browser.post(f"{address}digest/", {"sha256": sha256(content)}).status_code == 204
    run_jobs()
    attachment = Attachment.objects.get()
    assert (attachment.kind, attachment.caption, attachment.rights_note) == (
        "field-notes",
        "Written on the ferry",
        "Mine",
    )
    assert (attachment.file.sha256, attachment.file.media_type) == (sha256(content), "text/plain")
    told = text_of(see(browser, interview))
    assert "Field notes: notes.txt" in told
    assert "Stored twice, both copies match." in told


def test_a_page_is_refused_in_a_sentence_and_nothing_stays(browser, interview):
    content = b"<html><script>alert(1)</script>"
    address = create(browser, interview, length=len(content), described=described(interview))["Location"]
    answer = patch(browser, address, content)
    assert answer.status_code == 415
    assert "“notes.txt” is not a file that can be taken here. These are taken:" in answer.content.decode()
    assert head(browser, address).status_code == 410
    assert Upload.objects.get().state == UploadState.STOPPED
    assert "notes.txt" not in text_of(see(browser, interview))


@pytest.mark.parametrize("changed", [{"kind": "portrait"}, {"kind": ""}, {"caption": "x" * 501}])
def test_a_caption_that_cannot_be_is_refused_before_anything_is_sent(browser, interview, changed):
    assert create(browser, interview, described=described(interview, **changed)).status_code == 422
    assert not Upload.objects.exists()


@pytest.mark.parametrize("purpose", ["", "receipt", "Part"])
def test_a_purpose_that_is_none_is_not_known(browser, interview, purpose):
    assert create(browser, interview, described=described(interview, purpose=purpose)).status_code == 404


def test_nothing_is_attached_to_the_interview_of_another(client, interview, other_volunteer):
    client.force_login(other_volunteer)
    assert create(client, interview, described=described(interview)).status_code == 404


def test_a_scan_goes_to_a_form_that_its_sender_may_know_of(browser, interview, other_volunteer):
    signed = a_form_typed_in(narrator_of(interview))
    given = metadata(filename="form.jpg", purpose="scan", form=signed.pk)
    assert create(browser, interview, described=given).status_code == 201
    assert signed.scans.count() == 1
    assert create(signed_in(other_volunteer), interview, described=given).status_code == 404


def test_an_attachment_on_its_way_is_stopped_with_its_upload(browser, interview):
    address = create(browser, interview, described=described(interview))["Location"]
    assert browser.delete(address, headers=VERSION).status_code == 204
    assert Attachment.objects.get().taken_out_because == "Stopped on its way in."


def test_what_began_earlier_is_offered_to_go_on(browser, interview):
    an_attachment_arriving(interview, a_photograph())
    (known,) = see(browser, interview).context["attachment_panel"]["unfinished"]
    assert known["name"] == "porch.jpg"


def test_the_page_says_what_to_think_of_before_attaching(browser, interview):
    told = text_of(see(browser, interview))
    assert "Photographs show people, and may belong to somebody else" in told
    assert "no medical or other private papers" in told


def test_a_caption_is_put_right(browser, interview):
    attachment = an_attachment_stored(interview)
    known = browser.get(page("attachment-edit", attachment.pk)).content.decode()
    assert "The ferry house" in known
    typed = {"kind": "transcript", "caption": "By Tobias", "rights_note": ""}
    assert browser.post(page("attachment-edit", attachment.pk), typed).status_code == 302
    assert "Transcript: porch.jpg By Tobias" in text_of(see(browser, interview))


def test_an_attachment_is_taken_out_with_a_reason(browser, interview):
    attachment = an_attachment_stored(interview)
    address = page("attachment-take-out", attachment.pk)
    assert browser.post(address, {"reason": ""}).status_code == 200
    assert browser.post(address, {"reason": "Her sister did not agree."}).status_code == 302
    answer = see(browser, interview)
    assert "porch.jpg" in text_of(answer)
    assert "Her sister did not agree." in text_of(answer)
    assert page("attachment-edit", attachment.pk) not in links_of(answer)


def test_the_library_has_it_then_nothing_is_offered_to_change(browser, volunteer):
    interview = an_interview(State.DRAFT, owner=volunteer)
    attachment = an_attachment_stored(interview)
    workflow.submit(interview.pk, actor=volunteer)
    answer = see(browser, interview)
    assert page("attachment-file", attachment.pk) in links_of(answer)
    assert page("attachment-take-out", attachment.pk) not in links_of(answer) | actions_of(answer)
    assert "data-upload" not in answer.content.decode()
    refused = browser.post(page("attachment-take-out", attachment.pk), {"reason": "x"})
    assert "is with the library now" in text_of(refused)


# How a file is served


@pytest.mark.parametrize(
    ("content", "name", "media_type", "is_shown"),
    [
        (a_photograph(), "porch.jpg", "image/jpeg", True),
        (a_photograph(form="TIFF"), "porch.tif", "image/tiff", False),
        (b"%PDF-1.7\n%\n", "notes.pdf", "application/pdf", False),
        (b"alert(1)", "page.html", "text/plain", False),
    ],
)
def test_a_file_from_outside_is_served_by_its_bytes_and_in_a_sandbox(
    browser, interview, content, name, media_type, is_shown
):
    """A PDF is a download: browsers do not draw one in a sandbox."""
    attachment = an_attachment_stored(interview, content, name=name)
    answer = browser.get(page("attachment-file", attachment.pk))
    assert answer["Content-Type"] == media_type
    assert answer["Content-Disposition"].startswith("inline" if is_shown else "attachment")
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Content-Security-Policy"] == "default-src 'none'; sandbox"
    assert b"".join(answer.streaming_content) == content


def test_what_has_not_arrived_is_not_served(browser, interview):
    attachment = an_attachment_arriving(interview, a_photograph())
    assert browser.get(page("attachment-file", attachment.pk)).status_code == 404


def test_staff_see_it_on_the_review_page(archivist, volunteer):
    interview = an_interview(State.IN_REVIEW, owner=volunteer)
    assert "Photograph" not in text_of(signed_in(archivist).get(reverse("desk:interview-detail", args=[interview.pk])))
    other = an_interview(State.DRAFT, owner=volunteer)
    attachment = an_attachment_stored(other, rights_note="Lent by Marit")
    workflow.submit(other.pk, actor=volunteer)
    answer = signed_in(archivist).get(reverse("desk:interview-detail", args=[other.pk]))
    assert "Photograph: porch.jpg The ferry house Whose it is, and who is in it: Lent by Marit" in text_of(answer)
    assert f'src="{reverse("desk:attachment-file", args=[attachment.pk])}"' in answer.content.decode()
