"""Volunteers and staff: who they are, inviting one more, and what happens when one leaves."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from intake.accounts.models import User
from intake.desk import queries
from intake.desk.forms import HandOverForm, InviteForm
from intake.interviews import reassigning
from intake.kits.services import open_loans_of
from intake.mail import services as mail
from intake.people import services
from intake.people.models import Invitation
from intake.web.once import once
from intake.web.refusals import refusals_as_messages, refusals_on
from intake.web.requests import SignedInRequest


def people(request: SignedInRequest) -> HttpResponse:
    form = InviteForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            return once(request, lambda: _invite(request, form))
    context = {
        "form": form,
        "troubled_addresses": set(mail.troubled().values_list("to", flat=True)),
        "closed": User.objects.filter(is_active=False).order_by("name"),
        "accounts": queries.accounts(),
        "invitations": Invitation.objects.filter(used_at=None).select_related("person").order_by("-invited_at")[:50],
    }
    return render(request, "desk/people/list.html", context)


def account(request: SignedInRequest, pk: int) -> HttpResponse:
    """What somebody still has in hand: open interviews to move, kits to ask back; and closing the account."""
    user = get_object_or_404(User, pk=pk, is_active=True)
    interviews, loans = list(reassigning.open_interviews_of(user)), open_loans_of(user)
    fit = reassigning.may_look_after(request.user, instead_of=user)
    form = HandOverForm(request.POST or None, fit=fit, has_open=bool(interviews))
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            moved = reassigning.hand_over(
                pk,
                to=form.cleaned_data.get("to"),
                reason=form.cleaned_data["reason"],
                has_left=form.cleaned_data["has_left"],
                actor=request.user,
            )
            messages.success(request, f"{len(moved)} interview{'' if len(moved) == 1 else 's'} of {user} moved.")
            for loan in loans:
                messages.info(request, f"{loan.kit} is still with {user}: ask for it back.")
            return redirect("desk:people")
    context = {"account": user, "interviews": interviews, "loans": loans, "form": form}
    return render(request, "desk/people/account.html", context)


@require_POST
def reopen(request: SignedInRequest, pk: int) -> HttpResponse:
    user = get_object_or_404(User, pk=pk)
    with refusals_as_messages(request):
        services.reopen_account(user, actor=request.user)
        messages.success(request, f"{user} can sign in again.")
    return redirect("desk:people")


def _invite(request: SignedInRequest, form: InviteForm) -> HttpResponse:
    services.invite(
        **form.cleaned_data,
        actor=request.user,
        url_for=lambda token: request.build_absolute_uri(reverse("portal:welcome", args=[token])),
    )
    messages.success(request, f"An invitation is on its way to {form.cleaned_data['email']}.")
    return redirect("desk:people")
