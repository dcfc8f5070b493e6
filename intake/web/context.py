"""What every page may show: the library's name and where to ask."""

from django.conf import settings
from django.http import HttpRequest

from intake.accounts.models import User
from intake.mail.services import troubled


def site(request: HttpRequest) -> dict[str, object]:
    """The count of messages that did not arrive stands in the staff's navigation, so that somebody notices."""
    user = getattr(request, "user", None)
    is_staff = isinstance(user, User) and user.is_archivist
    return {
        "troubled_messages": troubled().count() if is_staff else 0,
        "library_name": settings.LIBRARY_NAME,
        "library_room": settings.LIBRARY_ROOM,
        "library_contact": settings.LIBRARY_CONTACT,
        "demo": settings.DEMO,
    }
