"""What every page may show: the library's name and where to ask."""

from django.conf import settings
from django.http import HttpRequest


def site(request: HttpRequest) -> dict[str, object]:
    return {
        "library_name": settings.LIBRARY_NAME,
        "library_room": settings.LIBRARY_ROOM,
        "library_contact": settings.LIBRARY_CONTACT,
        "demo": settings.DEMO,
    }
