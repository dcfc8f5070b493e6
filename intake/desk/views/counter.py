"""Hand in for somebody who brings a card or a folder: who gives it, what it is; then its page takes the files."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_safe

from intake.desk.forms import CounterForm, FindPersonForm
from intake.interviews import counter
from intake.people import services as people
from intake.people.models import Person
from intake.web.once import once
from intake.web.refusals import refusals_on
from intake.web.requests import SignedInRequest


@require_safe
def at_counter(request: SignedInRequest) -> HttpResponse:
    """Look for the giver among the persons known; below, what staff look after for others."""
    form = FindPersonForm(request.GET or None)
    found = people.find(form.cleaned_data["q"]) if form.is_bound and form.is_valid() else None
    context = {"form": form, "found": found, "interviews": counter.looked_after_for_others()[:200]}
    return render(request, "desk/counter/list.html", context)


def start(request: SignedInRequest, pk: int | None = None) -> HttpResponse:
    """Begin the interview of a giver who is known (`pk`) or new."""
    giver = get_object_or_404(Person, pk=pk, merged_into=None) if pk else None
    form = CounterForm(request.POST or None, giver=giver)
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            return once(request, lambda: _start(request, form))
    return render(request, "desk/counter/start.html", {"form": form, "giver": giver})


def _start(request: SignedInRequest, form: CounterForm) -> HttpResponse:
    interview = counter.start_at_counter(
        actor=request.user,
        description=form.description(),
        giver=form.given_by(),
        giver_is=form.cleaned_data["giver_is"],
        narrator=form.named("narrator"),
        interviewer=form.named("interviewer"),
    )
    return redirect("portal:interview-detail", pk=interview.pk)
