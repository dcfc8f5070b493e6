"""Stored copies: how their readings stand, and reading some again."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from intake.access.querysets import visible
from intake.desk.copies import copies_page
from intake.files import audits, listings
from intake.files.models import UnexpectedObject
from intake.interviews.models import Interview, Part
from intake.outputs import custody
from intake.web.refusals import refusals_as_messages
from intake.web.requests import SignedInRequest

ASKED = "The copies are being read. The page “Copies” shows how far it is, and what was found stands with each part."


@require_safe
def copies(request: SignedInRequest) -> HttpResponse:
    return render(request, "desk/copies/list.html", {"page": copies_page()})


@require_POST
def check_part(request: SignedInRequest, pk: int) -> HttpResponse:
    part = get_object_or_404(visible(Part, request.user), pk=pk)
    audits.ask(about=custody.about_part(part), actor=request.user)
    messages.success(request, ASKED)
    return redirect(reverse("desk:interview-detail", args=[part.interview_id]) + f"#part-{part.pk}")


@require_POST
def check_interview(request: SignedInRequest, pk: int) -> HttpResponse:
    interview = get_object_or_404(visible(Interview, request.user), pk=pk)
    audits.ask(about=custody.about_interview(interview), actor=request.user)
    messages.success(request, ASKED)
    return redirect("desk:interview-detail", pk=pk)


@require_POST
def set_aside(request: SignedInRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(UnexpectedObject, pk=pk, set_aside_at=None)
    with refusals_as_messages(request):
        listings.set_aside(found.pk, actor=request.user)
        messages.success(request, f"“{found.key}” was set aside in the {found.store} store.")
    return redirect("desk:copies")
