"""The accession register, and undoing an acceptance that was a mistake: one proposes, somebody else confirms."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from intake import workflow
from intake.access.querysets import visible
from intake.desk import queries
from intake.desk.forms import KeepAcceptanceForm, ProposeUndoForm
from intake.interviews.models import Interview
from intake.register.services import standing
from intake.web.refusals import refusals_as_messages, refusals_on
from intake.web.requests import SignedInRequest


@require_safe
def register(request: SignedInRequest) -> HttpResponse:
    return render(request, "desk/register/list.html", {"page": queries.register_page(request.GET.get("page"))})


def undo(request: SignedInRequest, pk: int) -> HttpResponse:
    """Propose it; or, once somebody has proposed it, look at why and decide."""
    interview = _interview(request, pk)
    form = ProposeUndoForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            workflow.propose_undo(pk, reason=form.cleaned_data["reason"], actor=request.user)
            return redirect("desk:interview-undo", pk=pk)
    context = {"interview": interview, "accession": standing(interview), "form": form, "keep": KeepAcceptanceForm()}
    return render(request, "desk/register/undo.html", context)


@require_POST
def confirm_undo(request: SignedInRequest, pk: int) -> HttpResponse:
    _interview(request, pk)
    with refusals_as_messages(request):
        accession = workflow.confirm_undo(pk, actor=request.user)
        messages.success(request, f"Accession {accession.number} is undone. The interview is in review again.")
    return redirect("desk:interview-detail", pk=pk)


def refuse_undo(request: SignedInRequest, pk: int) -> HttpResponse:
    interview = _interview(request, pk)
    form = KeepAcceptanceForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            workflow.refuse_undo(pk, reason=form.cleaned_data["reason"], actor=request.user)
            return redirect("desk:interview-detail", pk=pk)
    context = {"interview": interview, "accession": standing(interview), "form": ProposeUndoForm(), "keep": form}
    return render(request, "desk/register/undo.html", context)


def _interview(request: SignedInRequest, pk: int) -> Interview:
    return get_object_or_404(visible(Interview, request.user), pk=pk)
