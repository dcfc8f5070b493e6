"""What every page may show: the library by its name, its logo, and where to ask."""

from django.conf import settings
from django.http import HttpRequest
from django.urls import reverse
from django.utils.functional import SimpleLazyObject

from intake.library import services as libraries
from intake.mail.services import troubled
from intake.web.copies import warning
from intake.web.second_step import must_set_up, wanted_page


def site(request: HttpRequest) -> dict[str, object]:
    """The library's row and the count are read by pages that show something of them: templates call what can be called.

    The count of messages that did not arrive stands in the staff's navigation, so that somebody notices.
    """
    library = SimpleLazyObject(libraries.current)
    return {
        "library_name": lambda: library.name,
        "library_room": lambda: library.room,
        "library_contact": lambda: library.email,
        "library_logo": lambda: reverse("logo", args=[library.logo_id]) if library.logo_id else "",
        "copy_warning": warning,
        "troubled_messages": lambda: troubled().count(),
        "demo": settings.DEMO,
    }


def second_step(request: HttpRequest) -> dict[str, object]:
    """For the set-up of a second step: whether it stands between somebody and the page they wanted, and which."""
    user = getattr(request, "user", None)
    if user is None or not user.is_authenticated or not request.path.startswith(reverse("mfa_index")):
        return {}
    return {"second_step_is_required": must_set_up(user), "wanted_page": wanted_page(request)}
