"""Signing on paper: print the form, type in what is ticked on it, hand its scans in. The library's staff confirm it."""

from typing import Any

from django.http import Http404, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from intake.access.querysets import visible
from intake.interviews.models import Participant
from intake.outputs.papers import printed_form as printed_form_pdf
from intake.portal import panels, queries
from intake.portal.forms import SignedAgreementForm, SignedFormForm
from intake.releases import paper_forms
from intake.releases.models import Moment, PrintedForm, Scan, SignedForm
from intake.web.choices import NO_LICENCE
from intake.web.papers import paper_page_of, pdf_answer
from intake.web.ranges import serve_from_outside
from intake.web.refusals import refusals_as_messages, refusals_on
from intake.web.requests import SignedInRequest

FORMS = {Moment.RELEASE: SignedFormForm, Moment.AGREEMENT: SignedAgreementForm}


def paper(request: SignedInRequest, pk: int, moment: str) -> HttpResponse:
    participant = get_object_or_404(visible(Participant, request.user).select_related("person", "interview"), pk=pk)
    page = queries.paper_page(participant, moment)
    numbers = list(participant.printed_forms.filter(wording__moment=moment).values_list("number", flat=True))
    initial = _known(page.signed) if page.is_open else {}
    form = FORMS[page.moment](request.POST or None, numbers=numbers, initial=initial)
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            paper_forms.type_in(pk, typed=form.typed(), actor=request.user)
            return _back_to(pk, moment)
    panel = panels.scan_panel(page.signed, request.user) if page.signed and page.is_open else None
    return render(request, "portal/releases/paper.html", {"page": page, "form": form, "panel": panel})


@require_POST
def print_form(request: SignedInRequest, pk: int, moment: str) -> HttpResponse:
    """Make the form; the page then offers it to be opened and printed."""
    participant = get_object_or_404(visible(Participant, request.user), pk=pk)
    with refusals_as_messages(request):
        paper_forms.print_form(participant.pk, actor=request.user, moment=moment)
    return _back_to(pk, moment)


@require_safe
def printed_form(request: SignedInRequest, pk: int) -> HttpResponse:
    form = get_object_or_404(visible(PrintedForm, request.user).select_related("wording", "participant"), pk=pk)
    with refusals_as_messages(request):
        return pdf_answer(printed_form_pdf(form), f"form-{form.number}.pdf")
    return _back_to(form.participant_id, form.moment)


@require_safe
def scans(request: SignedInRequest, pk: int) -> HttpResponse:
    """The scans alone, for refreshing in place."""
    block = queries.scans_block(_signed_form(request, pk))
    return render(request, "portal/releases/_scans.html", {"scans": block, "refreshing": True})


@require_POST
def hand_in(request: SignedInRequest, pk: int) -> HttpResponse:
    signed = _signed_form(request, pk)
    with refusals_as_messages(request):
        paper_forms.hand_in(pk, actor=request.user)
    return _back_to(signed.form.participant_id, signed.form.moment)


@require_POST
def take_back(request: SignedInRequest, pk: int) -> HttpResponse:
    scan = _scan(request, pk)
    with refusals_as_messages(request):
        paper_forms.take_back_scan(pk, actor=request.user)
    return _back_to(scan.signed_form.form.participant_id, scan.signed_form.form.moment)


@require_safe
def scan(request: SignedInRequest, pk: int) -> HttpResponseBase:
    found = _scan(request, pk)
    if found.file is None:
        raise Http404("not stored yet")
    return serve_from_outside(request, found.file)


def _back_to(participant_id: int, moment: str) -> HttpResponse:
    return redirect(paper_page_of(moment), pk=participant_id)


def _scan(request: SignedInRequest, pk: int) -> Scan:
    return get_object_or_404(visible(Scan, request.user).select_related("file", "signed_form__form"), pk=pk)


def _signed_form(request: SignedInRequest, pk: int) -> SignedForm:
    return get_object_or_404(visible(SignedForm, request.user).select_related("form__participant"), pk=pk)


def _known(signed: SignedForm | None) -> dict[str, Any]:
    """What was typed before, for putting right."""
    if signed is None:
        return {}
    return {
        "number": signed.form.number,
        "access": signed.access,
        "closed_until": signed.closed_until,
        "closed_event": signed.closed_event,
        "licence": signed.licence or NO_LICENCE,
        "name": "withheld" if signed.name_withheld else "shown",
        "signed_by": signed.signed_by,
        "signed_on": signed.signed_on,
    }
