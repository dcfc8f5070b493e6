"""Forms signed on paper: look at the scans beside what was typed in, confirm or turn down."""

from django.contrib import messages
from django.http import Http404, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from intake.access.querysets import visible
from intake.desk import queries
from intake.desk.forms import TurnDownForm
from intake.outputs.services import site_url
from intake.releases import paper_forms
from intake.releases.models import Scan, SignedForm
from intake.web.papers import paper_page_of
from intake.web.ranges import serve_from_outside
from intake.web.refusals import refusals_as_messages, refusals_on
from intake.web.requests import SignedInRequest


@require_safe
def signed_forms(request: SignedInRequest) -> HttpResponse:
    return render(request, "desk/signed_forms/list.html", {"forms": queries.waiting_forms()})


@require_safe
def detail(request: SignedInRequest, pk: int) -> HttpResponse:
    page = queries.form_page(_signed_form(request, pk), request.user)
    return render(request, "desk/signed_forms/detail.html", {"page": page})


@require_POST
def confirm(request: SignedInRequest, pk: int) -> HttpResponse:
    _signed_form(request, pk)
    with refusals_as_messages(request):
        stands = paper_forms.confirm(pk, actor=request.user)
        messages.success(request, f"Confirmed: {stands} stands. The signer's copy is being made.")
    return redirect("desk:signed-form-detail", pk=pk)


def turn_down(request: SignedInRequest, pk: int) -> HttpResponse:
    signed = _signed_form(request, pk)
    form = TurnDownForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        url = site_url(paper_page_of(signed.form.moment), signed.participant.pk)
        with refusals_on(form):
            paper_forms.turn_down(pk, actor=request.user, url=url, **form.cleaned_data)
            return redirect("desk:signed-form-detail", pk=pk)
    return render(request, "desk/signed_forms/turn_down.html", {"form": form, "signed": signed})


@require_safe
def scan(request: SignedInRequest, pk: int) -> HttpResponseBase:
    found = get_object_or_404(visible(Scan, request.user).select_related("file"), pk=pk)
    if found.file is None:
        raise Http404("not stored yet")
    return serve_from_outside(request, found.file)


def _signed_form(request: SignedInRequest, pk: int) -> SignedForm:
    forms = visible(SignedForm, request.user).select_related(
        "form__participant__person", "form__participant__interview", "form__wording", "handed_in_by", "decided_by"
    )
    return get_object_or_404(forms, pk=pk)
