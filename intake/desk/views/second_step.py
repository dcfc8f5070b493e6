"""The second step at sign-in: putting the offer off, and taking a lost one off somebody's account."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from intake.accounts.models import User
from intake.people import second_step
from intake.web.refusals import refusals_as_messages
from intake.web.requests import SignedInRequest
from intake.web.second_step import NOT_NOW


@require_POST
def not_now(request: SignedInRequest) -> HttpResponse:
    request.session[NOT_NOW] = True
    return redirect("desk:queue")


def reset(request: SignedInRequest, pk: int) -> HttpResponse:
    account = get_object_or_404(User, pk=pk, is_active=True)
    if request.method == "POST":
        with refusals_as_messages(request):
            second_step.reset(account.pk, actor=request.user)
            messages.success(request, f"{account.name} signs in with the password alone and then sets it up anew.")
        return redirect("desk:people")
    return render(request, "desk/people/second_step.html", {"account": account})
