"""Photographs, field notes, transcripts and other documents that belong to an interview."""

from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone

from intake.accounts.models import User
from intake.audit.actions import Action
from intake.audit.services import record
from intake.errors import Refused
from intake.files import uploads
from intake.files.models import StoredFile, Upload, UploadState
from intake.interviews import arrivals, lifecycle
from intake.interviews.models import Attachment, Interview
from intake.interviews.quota import refuse_over_quota
from intake.merging import merged

LONGEST_NOTE = 500
STOPPED = "Stopped on its way in."


@dataclass(frozen=True)
class Caption:
    """What is said of an attachment: its kind, what it shows, whose it is."""

    kind: str
    caption: str
    rights_note: str


@transaction.atomic
def add_attachment(interview_id: int, *, upload: Upload, said: Caption, actor: User) -> Attachment:
    """Add a file that is beginning to arrive."""
    interview = lifecycle.editable(interview_id)
    _refuse_bad_caption(said)
    refuse_over_quota(upload, actor)
    attachment = Attachment.objects.create(interview=interview, upload=upload, **vars(said))
    record(
        actor=actor,
        action=Action.ATTACHMENT_STARTED,
        subject=attachment,
        thread=interview,
        names={"file": upload.name},
        kind=said.kind,
        bytes=upload.length,
    )
    return attachment


@transaction.atomic
def describe_attachment(attachment_id: int, *, said: Caption, actor: User, began: Caption | None = None) -> Attachment:
    """Put right what is said of an attachment while the interview is with the volunteer.

    `began` is what was said when the change was begun: what others saved since then is kept. Raises Conflict.
    """
    attachment = _editable(attachment_id)
    _refuse_bad_caption(said)
    saved = {name: getattr(attachment, name) for name in vars(said)}
    new = merged(vars(began), vars(said), saved) if began else vars(said)
    changed = sorted(name for name, value in new.items() if saved[name] != value)
    if not changed:
        return attachment
    for name in changed:
        setattr(attachment, name, new[name])
    attachment.save(update_fields=changed)
    record(
        actor=actor,
        action=Action.ATTACHMENT_DESCRIBED,
        subject=attachment,
        thread=attachment.interview,
        changed=changed,
    )
    return attachment


@transaction.atomic
def take_out(attachment_id: int, *, reason: str, actor: User) -> None:
    """Take an attachment out of the interview, with the reason. What was stored stays with the library."""
    attachment = _editable(attachment_id)
    if attachment.taken_out_at:
        return
    if not reason.strip():
        raise Refused("Say in a few words why it is taken out.")
    if attachment.upload.state == UploadState.STORED:
        _take_out(attachment, reason.strip(), Action.ATTACHMENT_TAKEN_OUT, actor)
    else:
        _stop(attachment, actor)


@transaction.atomic
def stop_attachment(attachment_id: int, *, actor: User) -> None:
    """Give up an attachment that is still arriving; its bytes go."""
    attachment = _editable(attachment_id)
    if not attachment.taken_out_at:
        _stop(attachment, actor)


@transaction.atomic
def attachment_arrived(upload_id: str, file: StoredFile) -> Attachment | None:
    """Join the stored file to its attachment; None if it was taken out meanwhile. Doing it again changes nothing."""
    attachment = Attachment.objects.select_related("upload", "interview").get(upload_id=upload_id)
    return attachment if arrivals.join(attachment, file, Action.ATTACHMENT_ARRIVED) else None


@transaction.atomic
def attachment_damaged(upload_id: str) -> None:
    attachment = Attachment.objects.select_related("upload", "interview").get(upload_id=upload_id)
    arrivals.note_damage(attachment, Action.ATTACHMENT_DAMAGED)


def attachments_of(interview: Interview) -> list[Attachment]:
    """The attachments in the order in which they came; those taken out are left out."""
    return list(
        interview.attachments.filter(taken_out_at=None)
        .select_related("upload", "file")
        .prefetch_related("file__stored_copies")
        .order_by("pk")
    )


def _editable(attachment_id: int) -> Attachment:
    """The attachment, read under the lock of its interview, if that is with the volunteer. Raises Refused."""
    lifecycle.editable(Attachment.objects.get(pk=attachment_id).interview_id)
    return Attachment.objects.select_related("upload", "interview").get(pk=attachment_id)


def _stop(attachment: Attachment, actor: User) -> None:
    uploads.stop(attachment.upload)
    _take_out(attachment, STOPPED, Action.ATTACHMENT_STOPPED, actor)


def _take_out(attachment: Attachment, reason: str, action: Action, actor: User) -> None:
    attachment.taken_out_at, attachment.taken_out_because = timezone.now(), reason
    attachment.save(update_fields=["taken_out_at", "taken_out_because"])
    record(
        actor=actor,
        action=action,
        subject=attachment,
        thread=attachment.interview,
        names={"file": attachment.upload.name, "reason": reason},
    )


def _refuse_bad_caption(said: Caption) -> None:
    if said.kind not in Attachment.Kind.values:
        raise Refused("Say what the attachment is: a photograph, field notes, a transcript or another document.")
    if max(len(said.caption), len(said.rights_note)) > LONGEST_NOTE:
        raise Refused(f"Keep what you write beside the attachment under {LONGEST_NOTE} letters.")
