"""Staff sign in with a second step: without one, every page leads to its set-up (where the settings require it)."""

from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django_htmx.http import HttpResponseClientRedirect

from intake.accounts.models import User
from intake.accounts.services import has_second_step
from intake.web.requests import SignedInRequest

GetResponse = Callable[[HttpRequest], HttpResponse]
REQUIRED = "required"
WANTED = "wanted_before_second_step"
NOT_NOW = "second_step_not_now"
# The sign-in library's own pages: among them the set-up itself, and signing out.
FREE = ("account_", "mfa_")


class SecondStepMiddleware:
    """SECURITY: staff see every volunteer's and narrator's data, so a stolen password alone must not open the desk.

    Public pages stay public: they show nothing that a stranger could not see.
    """

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(
        self, request: SignedInRequest, view: Callable[..., Any], args: Any, kwargs: Any
    ) -> HttpResponse | None:
        name = request.resolver_match.view_name if request.resolver_match else ""
        if name.startswith(FREE) or not getattr(view, "login_required", True):
            return None
        if not request.user.is_authenticated or not must_set_up(request.user):
            return None
        target = reverse("mfa_activate_totp")
        if "HX-Request" in request.headers:
            return HttpResponseClientRedirect(target)
        if request.method == "GET":
            request.session[WANTED] = request.get_full_path()
        return HttpResponseRedirect(target)


def must_set_up(user: User) -> bool:
    return settings.STAFF_SECOND_STEP == REQUIRED and user.is_archivist and not has_second_step(user)


def may_be_offered(request: SignedInRequest) -> bool:
    """Whether to offer a second step to somebody who has none and has not put it off in this session."""
    return not has_second_step(request.user) and NOT_NOW not in request.session


def wanted_page(request: HttpRequest) -> str:
    """Where somebody was going when the set-up came in between; the front door otherwise."""
    wanted = request.session.get(WANTED, "")
    is_ours = url_has_allowed_host_and_scheme(wanted, allowed_hosts=None)
    return wanted if wanted and is_ours else reverse("home")
