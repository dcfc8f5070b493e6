"""Records of persons: who may be written down twice, and making two records one."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_safe

from intake.desk import queries
from intake.desk.forms import FindPersonForm, MergeForm
from intake.interviews import merging
from intake.people import services as people
from intake.people.models import Person
from intake.web.refusals import refusals_as_messages
from intake.web.requests import SignedInRequest


@require_safe
def persons(request: SignedInRequest) -> HttpResponse:
    """Likely twins, and a search for those that only a person can see."""
    form = FindPersonForm(request.GET or None)
    found = people.find(form.cleaned_data["q"]) if form.is_bound and form.is_valid() else None
    return render(
        request, "desk/persons/list.html", {"form": form, "found": found, "twins": merging.likely_twins()[:100]}
    )


def merge(request: SignedInRequest, pk: int) -> HttpResponse:
    """The record `pk` beside the one it may be merged into; without one, a search for it."""
    twin = _person(pk)
    form = MergeForm(request.POST or request.GET)
    if not form.is_valid():
        return _choose_other(request, twin)
    stays = _person(form.cleaned_data["into"])
    if request.method == "POST":
        with refusals_as_messages(request):
            merging.merge(twin.pk, into_id=stays.pk, actor=request.user)
            messages.success(request, f"{twin.name} is now one record with {stays.name}.")
        return redirect("desk:persons")
    context = {
        "twin": queries.record_of(twin),
        "stays": queries.record_of(stays),
        "reasons": merging.reasons_against(twin, stays),
    }
    return render(request, "desk/persons/merge.html", context)


def _choose_other(request: SignedInRequest, twin: Person) -> HttpResponse:
    form = FindPersonForm(request.GET or None)
    words = form.cleaned_data["q"] if form.is_bound and form.is_valid() else twin.name
    found = [person for person in people.find(words) if person.pk != twin.pk]
    return render(request, "desk/persons/choose.html", {"twin": twin, "form": form, "found": found})


def _person(pk: int) -> Person:
    return get_object_or_404(Person.objects.select_related("user"), pk=pk, merged_into=None)
