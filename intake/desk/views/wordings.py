"""The release wordings in force: read them, and put the library's own into force."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_safe

from intake.desk.set_up_forms import WordingForm
from intake.library import services as libraries
from intake.library.models import Step
from intake.releases import wordings as services
from intake.releases.models import Basis, Moment, Wording
from intake.releases.starters import release_text
from intake.web.once import once
from intake.web.refusals import refusals_on
from intake.web.requests import SignedInRequest


@require_safe
def wordings(request: SignedInRequest) -> HttpResponse:
    context = {"wordings": services.in_force(), "is_settled": Step.WORDINGS in libraries.current().settled}
    return render(request, "desk/wordings/list.html", context)


def new_version(request: SignedInRequest, pk: int) -> HttpResponse:
    """Begins with the text of one wording; another language or role makes a first version of its own."""
    start = get_object_or_404(Wording, pk=pk)
    initial = {name: getattr(start, name) for name in ("moment", "role", "language", "basis", "title", "text")}
    basis = request.GET.get("begin", "")
    if start.moment == Moment.RELEASE and basis in Basis.values:
        initial |= {"basis": basis, "text": release_text(start.role, start.language, basis) or start.text}
    form = WordingForm(request.POST or None, initial=initial)
    preview = ""
    if request.method == "POST" and form.is_valid():
        if "preview" not in request.POST:
            with refusals_on(form):
                return once(request, lambda: _put_into_force(request, form))
        preview = services.example_of(form.cleaned_data["text"])
    context = {"form": form, "start": start, "preview": preview, "bases": Basis.choices}
    return render(request, "desk/wordings/new_version.html", context)


def _put_into_force(request: SignedInRequest, form: WordingForm) -> HttpResponse:
    wording = services.put_into_force(**form.cleaned_data, actor=request.user)
    libraries.settle(Step.WORDINGS, actor=request.user)
    messages.success(request, f"{wording} is in force. Whoever signs from now on reads it.")
    return redirect("desk:wordings")
