"""The collections that interviews belong to."""

from django.http import HttpResponse
from django.shortcuts import redirect, render

from intake.desk import queries
from intake.desk.forms import CollectionForm
from intake.interviews import services
from intake.web.once import once
from intake.web.refusals import refusals_on
from intake.web.requests import SignedInRequest


def collections(request: SignedInRequest) -> HttpResponse:
    form = CollectionForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            return once(request, lambda: _add(request, form))
    return render(request, "desk/collections/list.html", {"form": form, "collections": queries.collections()})


def _add(request: SignedInRequest, form: CollectionForm) -> HttpResponse:
    services.add_collection(name=form.cleaned_data["name"], actor=request.user)
    return redirect("desk:collections")
