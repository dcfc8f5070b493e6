"""Volunteers and staff: who they are, and inviting one more."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from intake.accounts.models import User
from intake.desk.forms import InviteForm
from intake.people import services
from intake.people.models import Invitation
from intake.web.once import once
from intake.web.refusals import refusals_on
from intake.web.requests import SignedInRequest


def people(request: SignedInRequest) -> HttpResponse:
    form = InviteForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            return once(request, lambda: _invite(request, form))
    context = {
        "form": form,
        "accounts": User.objects.filter(is_active=True).order_by("name"),
        "invitations": Invitation.objects.filter(used_at=None).select_related("person").order_by("-invited_at")[:50],
    }
    return render(request, "desk/people/list.html", context)


def _invite(request: SignedInRequest, form: InviteForm) -> HttpResponse:
    services.invite(
        **form.cleaned_data,
        actor=request.user,
        url_for=lambda token: request.build_absolute_uri(reverse("portal:welcome", args=[token])),
    )
    messages.success(request, f"An invitation is on its way to {form.cleaned_data['email']}.")
    return redirect("desk:people")
