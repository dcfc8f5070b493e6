"""What is the same for everything that is handed in as one file: it arrives whole, or damaged.

A part, an attachment and a scan each point to their upload, and to the stored file once that is whole.
"""

from typing import Any

from intake.audit.actions import Action
from intake.audit.models import Outcome
from intake.audit.services import record
from intake.files import storing
from intake.files.models import StoredFile, Upload, UploadState
from intake.interviews import lifecycle
from intake.interviews.models import Interview


def join(thing: Any, file: StoredFile, action: Action) -> bool:
    """Point the thing to its stored file, inside a transaction; False if it was taken out meanwhile.

    Doing it again changes nothing.
    """
    interview: Interview = thing.interview
    # The lock keeps a removal at the same moment from missing the file, or this from undoing the removal.
    lifecycle.locked(interview.pk)
    upload = Upload.objects.get(pk=thing.upload.pk)
    if upload.state == UploadState.STOPPED:
        return False
    if upload.state == UploadState.STORED:
        return True
    storing.close(upload, file)
    thing.file = file
    thing.save(update_fields=["file"])
    record(
        actor=None,
        action=action,
        subject=thing,
        thread=interview,
        names={"file": file.name},
        sha256=file.sha256,
        bytes=file.bytes,
    )
    return True


def note_damage(thing: Any, action: Action) -> None:
    """Say that what arrived is not what was sent. Doing it again, or after it was taken out, changes nothing."""
    if not storing.mark_damaged(thing.upload):
        return
    record(
        actor=None,
        action=action,
        subject=thing,
        thread=thing.interview,
        outcome=Outcome.FAILURE,
        names={"file": thing.upload.name},
    )
