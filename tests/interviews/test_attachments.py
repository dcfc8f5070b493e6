"""Attachments: they arrive like parts, are described, and are taken out with a reason; nothing is deleted."""

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from intake import readiness, workflow
from intake.audit.actions import Action
from intake.audit.services import story_of
from intake.errors import Refused
from intake.files import uploads
from intake.files.models import UploadState
from intake.interviews import attachments
from intake.interviews.attachments import Caption, attachments_of
from intake.interviews.models import Attachment, Interview, State
from intake.jobs.models import Kind
from tests.factories import (
    a_bad_reading,
    a_photograph,
    a_started_interview,
    an_attachment_arriving,
    an_attachment_stored,
    an_interview,
    answer_everything,
    run_jobs,
    send,
    sha256,
    sign_everybody,
)

pytestmark = pytest.mark.django_db
NOTES = Caption(kind="field-notes", caption="Written on the ferry", rights_note="Mine")


@pytest.fixture
def interview(volunteer) -> Interview:
    return a_started_interview(volunteer)


def actions(interview: Interview) -> list[str]:
    return list(story_of(interview).values_list("action", flat=True))


def test_an_attachment_is_kept_twice_with_the_digest_of_its_sender(interview):
    attachment = an_attachment_stored(interview, a_photograph())
    assert attachment.file.sha256 == sha256(a_photograph())
    assert attachment.file.media_type == "image/jpeg"
    assert set(attachment.file.checks.values_list("store", "found")) == {("primary", "matches"), ("replica", "matches")}
    assert actions(interview)[-2:] == [Action.ATTACHMENT_STARTED, Action.ATTACHMENT_ARRIVED]


def test_an_attachment_is_not_measured_as_sound(interview):
    an_attachment_stored(interview)
    assert {job.kind for job in run_jobs()} <= {Kind.SEAL_EVENTS}


def test_a_damaged_attachment_is_told(interview):
    content = a_photograph()
    attachment = an_attachment_arriving(interview, content)
    send(attachment.upload, content)
    uploads.declare_digest(attachment.upload_id, sha256(b"another file"))
    run_jobs(Kind.STORE_UPLOAD)
    attachment.upload.refresh_from_db()
    assert attachment.upload.state == UploadState.DAMAGED
    assert actions(interview)[-1] == Action.ATTACHMENT_DAMAGED
    assert "The attachment “porch.jpg” arrived damaged: take it out and hand it in again." in (
        readiness.missing_before_submission(interview)
    )


def test_an_attachment_that_has_not_arrived_is_named_before_the_hand_in(interview, volunteer):
    attachment = an_attachment_arriving(interview, a_photograph())
    told = "The attachment “porch.jpg” has not finished arriving."
    assert told in readiness.missing_before_submission(interview)
    attachments.stop_attachment(attachment.pk, actor=volunteer)
    assert told not in readiness.missing_before_submission(interview)


def test_an_attachment_whose_copies_do_not_match_stands_in_the_way_of_acceptance(volunteer, archivist):
    draft = an_interview(State.DRAFT, owner=volunteer)
    attachment = an_attachment_stored(draft)
    a_bad_reading(attachment.file)
    assert "The attachment “porch.jpg” is not yet kept in two copies that match." in (
        readiness.missing_before_acceptance(draft)
    )


def test_a_caption_is_put_right(interview, volunteer):
    attachment = an_attachment_stored(interview)
    attachments.describe_attachment(attachment.pk, said=NOTES, actor=volunteer)
    attachment.refresh_from_db()
    assert (attachment.kind, attachment.caption, attachment.rights_note) == ("field-notes", NOTES.caption, "Mine")
    event = story_of(interview).last()
    assert (event.action, event.details["changed"]) == (
        Action.ATTACHMENT_DESCRIBED,
        ["caption", "kind", "rights_note"],
    )


def test_saying_the_same_again_is_no_event(interview, volunteer):
    attachment = an_attachment_stored(interview)
    before = len(actions(interview))
    same = Caption(attachment.kind, attachment.caption, attachment.rights_note)
    attachments.describe_attachment(attachment.pk, said=same, actor=volunteer)
    assert len(actions(interview)) == before


def test_an_attachment_taken_out_keeps_its_row_its_file_and_the_reason(interview, volunteer):
    attachment = an_attachment_stored(interview)
    attachments.take_out(attachment.pk, reason="Her sister did not agree.", actor=volunteer)
    attachments.take_out(attachment.pk, reason="Clicked twice", actor=volunteer)
    attachment.refresh_from_db()
    assert attachment.taken_out_because == "Her sister did not agree."
    assert attachment.file is not None
    assert attachments_of(interview) == []
    assert actions(interview).count(Action.ATTACHMENT_TAKEN_OUT) == 1


def test_taking_out_needs_a_reason(interview, volunteer):
    attachment = an_attachment_stored(interview)
    with pytest.raises(Refused, match="Say in a few words why"):
        attachments.take_out(attachment.pk, reason=" ", actor=volunteer)


def test_what_is_stopped_on_its_way_leaves_no_bytes(interview, volunteer):
    attachment = an_attachment_arriving(interview, a_photograph())
    attachments.stop_attachment(attachment.pk, actor=volunteer)
    attachment.refresh_from_db()
    assert attachment.upload.state == UploadState.STOPPED
    assert attachments.attachment_arrived(str(attachment.upload_id), an_attachment_stored(interview).file) is None


@pytest.mark.parametrize("wrong", [Caption("portrait", "", ""), Caption("photograph", "x" * 501, "")])
def test_a_caption_that_cannot_be_is_refused(interview, volunteer, wrong):
    attachment = an_attachment_stored(interview)
    with pytest.raises(Refused):
        attachments.describe_attachment(attachment.pk, said=wrong, actor=volunteer)


def test_attachments_stay_as_they_are_while_the_library_has_the_interview(volunteer):
    submitted = an_interview(State.DRAFT, owner=volunteer)
    attachment = an_attachment_stored(submitted)
    workflow.submit(submitted.pk, actor=volunteer)
    for act in (
        lambda: attachments.take_out(attachment.pk, reason="x", actor=volunteer),
        lambda: attachments.describe_attachment(attachment.pk, said=NOTES, actor=volunteer),
        lambda: an_attachment_arriving(submitted, b"x"),
    ):
        with pytest.raises(Refused, match="is with the library now"):
            act()


def test_the_register_keeps_each_attachment_with_its_digest(volunteer, archivist):
    interview = an_interview(State.DRAFT, owner=volunteer)
    attachment = an_attachment_stored(interview, rights_note="Lent by Marit")
    gone = an_attachment_stored(interview, name="gone.jpg")
    attachments.take_out(gone.pk, reason="Not ours", actor=volunteer)
    run_jobs(Kind.MEASURE_PART)
    sign_everybody(interview)
    workflow.submit(interview.pk, actor=volunteer)
    workflow.take_up(interview.pk, actor=archivist)
    answer_everything(interview, archivist)
    taken = workflow.accept(interview.pk, actor=archivist).snapshot["attachments"]
    assert taken == [
        {
            "kind": "Photograph",
            "caption": "The ferry house",
            "rights_note": "Lent by Marit",
            "name": "porch.jpg",
            "media_type": "image/jpeg",
            "bytes": len(a_photograph()),
            "sha256": attachment.file.sha256,
        }
    ]


@pytest.mark.parametrize(
    "wrong",
    [{"kind": "portrait"}, {"taken_out_because": "no day"}, {"taken_out_at": timezone.now()}],
)
def test_the_database_keeps_kinds_and_reasons(interview, wrong):
    attachment = an_attachment_stored(interview)
    with pytest.raises(IntegrityError), transaction.atomic():
        Attachment.objects.filter(pk=attachment.pk).update(**wrong)
