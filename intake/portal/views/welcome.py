"""First steps: an invitation's link, a loan's code. GET looks, POST acts, since mail scanners open links."""

from allauth.account.internal.flows.login import record_authentication
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from intake.accounts.models import User
from intake.errors import Refused
from intake.kits import services as kits
from intake.people import services as people
from intake.portal.forms import KitCodeForm, WelcomeForm
from intake.web.limits import count_miss, refuse_after_misses
from intake.web.refusals import refusals_on

BACKEND = "allauth.account.auth_backends.AuthenticationBackend"


@login_not_required
def invitation(request: HttpRequest, token: str) -> HttpResponse:
    try:
        person = people.open_invitation(token).person
    except Refused as refused:
        return render(request, "portal/welcome/dead.html", {"reasons": refused.reasons}, status=410)
    form = WelcomeForm(request.POST or None, initial={"name": person.name})
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            user = people.accept_invitation(token, **form.cleaned_data)
            return _with_new_password(request, user)
    return render(request, "portal/welcome/account.html", {"form": form, "email": person.email})


@login_not_required
def kit_code(request: HttpRequest) -> HttpResponse:
    form = KitCodeForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            code = _known_code(request, form.cleaned_data["code"])
            if kits.open_code(code).borrower.user:
                return _signed_in(request, kits.redeem_code(code))
            request.session["kit_code"] = code
            return redirect("portal:kit-account")
    return render(request, "portal/welcome/kit_code.html", {"form": form})


@login_not_required
def kit_account(request: HttpRequest) -> HttpResponse:
    """The borrower's first time: a name and a password, then the code is spent."""
    code = request.session.get("kit_code", "")
    try:
        person = kits.open_code(code).borrower
    except Refused:
        return redirect("portal:kit-code")
    form = WelcomeForm(request.POST or None, initial={"name": person.name})
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            return _with_new_password(request, kits.redeem_code(code, **form.cleaned_data))
    return render(request, "portal/welcome/account.html", {"form": form, "email": person.email})


def _known_code(request: HttpRequest, typed: str) -> str:
    """The code, if there is such a loan; a miss is counted against guessing."""
    refuse_after_misses(request, "kit-code")
    try:
        kits.open_code(typed)
    except Refused:
        count_miss(request, "kit-code")
        raise
    return typed


def _with_new_password(request: HttpRequest, user: User) -> HttpResponse:
    """Whoever has just chosen a password is not asked for it again when a second step is set up next."""
    answer = _signed_in(request, user)
    record_authentication(request, user, method="password", email=user.email)
    return answer


def _signed_in(request: HttpRequest, user: User) -> HttpResponse:
    login(request, user, backend=BACKEND)
    request.session.pop("kit_code", None)
    return redirect("home")
