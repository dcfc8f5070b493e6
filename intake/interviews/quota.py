"""How much one volunteer may have waiting with the library: parts, attachments and scans of what is not decided yet."""

from django.conf import settings
from django.db.models import Q, Sum

from intake.accounts.models import User
from intake.figures import size
from intake.files.models import StoredFile, Upload, UploadState
from intake.files.uploads import TooLarge
from intake.interviews.lifecycle import OPEN
from intake.interviews.models import Interview
from intake.library import services as libraries


def handed_in_for(**interview: object) -> Q:
    """The uploads that belong to interviews which these lookups find: each as a part, an attachment or a scan."""
    ways = ("part__interview", "attachment__interview", "scan__signed_form__form__participant__interview")
    found = Interview.objects.filter(**interview)
    one, another, third = (Q(**{f"{way}__in": found}) for way in ways)
    return one | another | third


def open_bytes_left(user: User) -> int | None:
    """How much more somebody may hand in before the library has decided about some of it; None for no limit."""
    if user.is_archivist:
        return None
    return max(settings.UPLOAD_OPEN_BYTES - _open_bytes(user), 0)


def refuse_over_quota(upload: Upload, actor: User) -> None:
    """Raise TooLarge if the upload, which belongs to nothing yet, is more than site or sender may still have."""
    _refuse_over_site_quota(upload)
    if actor.is_archivist:
        return
    # One file at a time of one person: two at once would each find the room that is left for one.
    User.objects.select_for_update().get(pk=actor.pk)
    held = _open_bytes(actor)
    if held + upload.length > settings.UPLOAD_OPEN_BYTES:
        raise TooLarge(
            f"“{upload.name}” has {size(upload.length)}. You have handed in {size(held)} that the library has not "
            f"accepted yet, and {size(settings.UPLOAD_OPEN_BYTES)} may wait at a time. Nothing is lost: keep your "
            f"file, and hand it in when the library has accepted some, or ask the {libraries.current().whom_to_ask}."
        )


def _refuse_over_site_quota(upload: Upload) -> None:
    """All that the site keeps, in each store, and all that is on its way; for everybody, where a limit is set."""
    if not settings.UPLOAD_SITE_BYTES:
        return
    kept = StoredFile.objects.aggregate(sum=Sum("bytes"))["sum"] or 0
    under_way = Upload.objects.filter(state__in=[UploadState.RECEIVING, UploadState.RECEIVED], joined_into=None)
    coming = under_way.exclude(pk=upload.pk).aggregate(sum=Sum("length"))["sum"] or 0
    if kept + coming + upload.length > settings.UPLOAD_SITE_BYTES:
        raise TooLarge(
            f"“{upload.name}” has {size(upload.length)}. The library keeps {size(kept + coming)} and may keep "
            f"{size(settings.UPLOAD_SITE_BYTES)} in all. Nothing is lost: keep your file, and ask the "
            f"{libraries.current().whom_to_ask}."
        )


def _open_bytes(user: User) -> int:
    """What somebody has handed in, or begun to, and waits for the library's decision; or waits to be joined."""
    to_be_joined = Q(is_partial=True, joined_into=None)
    given_up = [UploadState.STOPPED, UploadState.EXPIRED]
    held = Upload.objects.filter(handed_in_for(state__in=OPEN) | to_be_joined, owner=user).exclude(state__in=given_up)
    return held.aggregate(sum=Sum("length"))["sum"] or 0
