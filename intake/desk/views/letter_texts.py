"""The texts with which the library's letters begin: read them, and put the library's own into force."""

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from intake.desk.set_up_forms import LetterTextForm
from intake.outputs import letters
from intake.outputs.models import LetterKind
from intake.web.once import once
from intake.web.refusals import refusals_on
from intake.web.requests import SignedInRequest


@require_safe
def letter_texts(request: SignedInRequest) -> HttpResponse:
    return render(request, "desk/letter_texts/list.html", {"texts": letters.standing_texts()})


def change(request: SignedInRequest, kind: str, language: str) -> HttpResponse:
    if kind not in LetterKind.values or language not in letters.LANGUAGES:
        raise Http404("no such letter")
    start = letters.standing_text(kind, language)
    form = LetterTextForm(request.POST or None, initial={"text": start.text})
    preview = ""
    if request.method == "POST" and form.is_valid():
        if "preview" in request.POST:
            preview = letters.example_of(form.cleaned_data["text"])
        else:
            with refusals_on(form):
                return once(request, lambda: _put_into_force(request, start, form.cleaned_data["text"]))
    return render(request, "desk/letter_texts/change.html", {"form": form, "start": start, "preview": preview})


def _put_into_force(request: SignedInRequest, start: letters.StandingText, text: str) -> HttpResponse:
    letters.put_text_into_force(kind=start.kind, language=start.language, text=text, actor=request.user)
    messages.success(request, f"The next {start.kind.label.lower()} begins with your text.")
    return redirect("desk:letter-texts")
