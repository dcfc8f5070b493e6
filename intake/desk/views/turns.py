"""The narrator's turn as staff see it: offer it, and decide what the narrator wishes."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from intake.access.querysets import visible
from intake.desk.forms import DeclineWishForm, TurnForm
from intake.interviews.models import Interview, Participant
from intake.outputs import private_links
from intake.releases import turns
from intake.releases.models import Wish
from intake.web.refusals import refusals_as_messages, refusals_on
from intake.web.requests import SignedInRequest


def offer(request: SignedInRequest, pk: int) -> HttpResponse:
    rows = visible(Participant, request.user).select_related("person", "interview")
    participant = get_object_or_404(rows, pk=pk, role=Participant.Role.NARRATOR)
    form = TurnForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            private_links.offer_turn(pk, until=form.cleaned_data["until"], actor=request.user)
            messages.success(request, f"A link is on its way to {participant.person}.")
            return redirect("desk:interview-detail", pk=participant.interview_id)
    return render(request, "desk/interviews/turn.html", {"participant": participant, "form": form})


@require_POST
def close(request: SignedInRequest, pk: int) -> HttpResponse:
    wish = _wish(request, pk)
    with refusals_as_messages(request):
        turns.decide(pk, close=True, reason="", actor=request.user)
    return redirect("desk:interview-detail", pk=wish.turn.participant.interview_id)


def decline(request: SignedInRequest, pk: int) -> HttpResponse:
    wish = _wish(request, pk)
    form = DeclineWishForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            turns.decide(pk, close=False, reason=form.cleaned_data["reason"], actor=request.user)
            return redirect("desk:interview-detail", pk=wish.turn.participant.interview_id)
    return render(request, "desk/interviews/decline_wish.html", {"wish": wish, "form": form})


def _wish(request: SignedInRequest, pk: int) -> Wish:
    rows = Wish.objects.select_related("turn__participant__interview", "part")
    return get_object_or_404(rows, pk=pk, turn__participant__interview__in=visible(Interview, request.user))
