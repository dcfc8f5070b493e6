"""What a file is handed in as: a part, an attachment or a scan of a signed form. The upload protocol is one for all.

A browser names the purpose and what the file belongs to in Upload-Metadata.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

from django.db.models import Model

from intake.access.querysets import visible
from intake.accounts.models import User
from intake.files import uploads
from intake.files.models import Expects, Upload
from intake.interviews import attachments
from intake.interviews import services as interviews
from intake.interviews.attachments import Caption
from intake.interviews.models import Interview
from intake.interviews.quota import refuse_over_quota
from intake.releases import paper_forms
from intake.releases.models import SignedForm

M = TypeVar("M", bound=Model)
PART, ATTACHMENT, SCAN = "part", "attachment", "scan"


@dataclass(frozen=True)
class Purpose:
    """Which kinds of files are expected, and how the upload is joined to what it belongs to."""

    expects: Expects
    add: Callable[[Upload], object]


def purpose_of(user: User, metadata: dict[str, str], *, is_partial: bool) -> Purpose | None:
    """What this person may hand the file in as; None if they may not know of what it belongs to.

    A partial upload belongs to nothing until it is joined with others.
    """
    if is_partial:
        return Purpose(Expects.SOUND, lambda upload: refuse_over_quota(upload, user))
    maker = {PART: _part, ATTACHMENT: _attachment, SCAN: _scan}.get(metadata.get("purpose", PART))
    return maker(user, metadata) if maker else None


def stop(upload: Upload, *, actor: User) -> None:
    """Give up an upload together with what it was for. Raises Refused."""
    if upload.is_partial:
        uploads.stop(upload)
    elif hasattr(upload, PART):
        interviews.remove_part(upload.part.pk, actor=actor)
    elif hasattr(upload, ATTACHMENT):
        attachments.stop_attachment(upload.attachment.pk, actor=actor)
    else:
        paper_forms.take_back_scan(upload.scan.pk, actor=actor)


def _part(user: User, metadata: dict[str, str]) -> Purpose | None:
    interview = _known(Interview, user, metadata.get("interview", ""))
    if interview is None:
        return None
    return Purpose(Expects.SOUND, lambda upload: interviews.add_part(interview.pk, upload=upload, actor=user))


def _attachment(user: User, metadata: dict[str, str]) -> Purpose | None:
    interview = _known(Interview, user, metadata.get("interview", ""))
    if interview is None:
        return None
    said = Caption(*(metadata.get(name, "").strip() for name in ("kind", "caption", "rights_note")))
    return Purpose(
        Expects.DOCUMENT,
        lambda upload: attachments.add_attachment(interview.pk, upload=upload, said=said, actor=user),
    )


def _scan(user: User, metadata: dict[str, str]) -> Purpose | None:
    signed = _known(SignedForm, user, metadata.get("form", ""))
    if signed is None:
        return None
    return Purpose(Expects.SCAN, lambda upload: paper_forms.add_scan(signed.pk, upload=upload, actor=user))


def _known(model: type[M], user: User, pk: str) -> M | None:
    """The row of this number, as a browser wrote it, that the person may know of."""
    is_number = pk.isascii() and pk.isdigit() and len(pk) < 19
    return visible(model, user).filter(pk=pk).first() if is_number else None
