"""Uploads that nobody goes on with: their people are written to in time, and then the space is cleared."""

from collections import defaultdict
from datetime import datetime, timedelta
from typing import Any

from django.conf import settings
from django.db import transaction
from django.db.models import QuerySet

from intake.accounts.models import User
from intake.audit.actions import Action
from intake.audit.models import Outcome
from intake.audit.services import record
from intake.errors import Refused
from intake.files import uploads
from intake.files.models import Upload, UploadState
from intake.interviews.lifecycle import OPEN
from intake.interviews.models import Interview
from intake.mail import services as mail
from intake.outputs.services import site_url

AT_ONCE = 200


def is_due(now: datetime) -> bool:
    return _to_be_warned(now).exists() or uploads.expired(now).exists()


@transaction.atomic
def warn(now: datetime) -> int:
    """Write to whoever began uploads that will expire soon, once for each interview; returns how many uploads."""
    waiting = list(_to_be_warned(now).select_for_update(of=("self",))[:AT_ONCE])
    together: dict[tuple[User, Interview], list[Upload]] = defaultdict(list)
    for upload in waiting:
        interview = _interview_of(upload)
        if interview and interview.state in OPEN:  # what was withdrawn or declined takes no more files
            together[upload.owner, interview].append(upload)
    for (owner, interview), unfinished in together.items():
        until = min(upload.expires_at for upload in unfinished)
        mail.write(
            key=f"unfinished-{interview.pk}-{owner.pk}-{until:%Y%m%d%H%M%S}",
            to=owner.email,
            template="upload_unfinished",
            thread=interview,
            context={
                "interview": interview,
                "name": owner.name,
                "files": unfinished,
                "until": until,
                "url": site_url("portal:interview-detail", interview.pk),
            },
        )
    Upload.objects.filter(pk__in=[upload.pk for upload in waiting]).update(warned_at=now)
    return len(waiting)


def clear(now: datetime) -> int:
    """Give up what has expired; its bytes go, its row stays and says so. Returns how many uploads."""
    cleared = 0
    for upload in uploads.expired(now)[:AT_ONCE]:
        cleared += _clear(upload, now)
    return cleared


@transaction.atomic
def _clear(upload: Upload, now: datetime) -> bool:
    """Under the upload's lock: a piece may have come in meanwhile, and moved the day on."""
    if not uploads.expired(now).filter(pk=upload.pk).select_for_update(of=("self",)).exists():
        return False
    try:
        uploads.stop(upload, state=UploadState.EXPIRED)
    except Refused:
        return False
    interview = _interview_of(upload)
    record(
        actor=None,
        action=Action.UPLOAD_EXPIRED,
        subject=upload,
        thread=interview,
        outcome=Outcome.FAILURE,
        names={"file": upload.name},
        bytes_arrived=upload.offset,
        bytes=upload.length,
    )
    return True


def _to_be_warned(now: datetime) -> QuerySet[Upload]:
    """Two days before, or half-way where an upload lives no four days."""
    before = min(timedelta(days=2), timedelta(days=settings.UPLOAD_EXPIRES_DAYS) / 2)
    waiting = Upload.objects.filter(state=UploadState.RECEIVING, is_partial=False, warned_at=None)
    return waiting.filter(expires_at__gt=now, expires_at__lte=now + before).select_related("owner").order_by("pk")


def _interview_of(upload: Upload) -> Interview | None:
    """What the upload is for; none for a part of one that was never joined."""
    thing: Any = next((getattr(upload, name) for name in ("part", "attachment", "scan") if hasattr(upload, name)), None)
    return thing.interview if thing else None
