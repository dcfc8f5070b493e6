"""Addresses that carry their own right: of one upload, to go on with it; of one interview, to begin uploads for it.

SECURITY: whoever has such an address has the right, and no more. No cookie gives it, so no forged request from another
page can use one that it does not know. They stand in no page but the one of the person they were made for, the referrer
policy keeps them from other sites, and they die with the upload, or by their date.
"""

from uuid import UUID

from django.core.signing import BadSignature, TimestampSigner
from django.urls import reverse
from django.utils.crypto import constant_time_compare, salted_hmac

from intake.accounts.models import User
from intake.files.models import Upload

PROGRAM_DAYS = 14
_programs = TimestampSigner(salt="intake.portal.program")


def upload_address(upload: Upload) -> str:
    """Always the same for one upload in one person's hands, so that a page can name it again in another browser."""
    return reverse("portal:upload", args=[upload.pk, _key_of(upload)])


def known_upload(pk: UUID, key: str) -> Upload | None:
    """The upload of this address; None if it is made up, its owner's account is closed, or it is in other hands now."""
    upload = Upload.objects.filter(pk=pk, owner__is_active=True).first()
    return upload if upload and constant_time_compare(key, _key_of(upload)) else None


def program_address(interview_id: int, user: User) -> str:
    """Where any program that speaks tus may hand in parts of this interview as this person, for PROGRAM_DAYS."""
    return reverse("portal:uploads-for-program", args=[_programs.sign(f"{interview_id}-{user.pk}").replace(":", "~")])


def of_program(signed: str) -> tuple[User, str] | None:
    """Who, and the number of which interview, an address of program_address means; None if it is no longer good."""
    try:
        told = _programs.unsign(signed.replace("~", ":"), max_age=PROGRAM_DAYS * 24 * 3600)
    except BadSignature:  # SignatureExpired is one
        return None
    interview_id, _, user_id = told.partition("-")
    user = User.objects.filter(pk=user_id, is_active=True).first()
    return (user, interview_id) if user else None


def _key_of(upload: Upload) -> str:
    told = f"{upload.pk} {upload.owner_id}"
    return salted_hmac("intake.portal.upload", told, algorithm="sha256").hexdigest()[:40]
