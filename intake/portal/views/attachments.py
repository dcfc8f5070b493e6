"""The attachments of a volunteer's interview: see them arrive, say what they show, take them out."""

from django.http import Http404, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_safe

from intake.access.policy import Act
from intake.access.querysets import visible
from intake.interviews import attachments as services
from intake.interviews.attachments import Caption
from intake.interviews.models import Attachment, Interview
from intake.portal import queries
from intake.portal.forms import CaptionForm, TakeOutForm
from intake.web.permits import permit
from intake.web.ranges import serve_from_outside
from intake.web.refusals import refusals_on
from intake.web.requests import SignedInRequest


@require_safe
def attachments(request: SignedInRequest, pk: int) -> HttpResponse:
    """The attachments and what stands at the top of the page, for refreshing in place."""
    interview = get_object_or_404(visible(Interview, request.user).select_related("owner", "collection"), pk=pk)
    page = queries.interview_page(interview, request.user)
    return render(request, "portal/interviews/_attachments.html", {"page": page, "refreshing": True})


def edit(request: SignedInRequest, pk: int) -> HttpResponse:
    attachment = _attachment(request, pk)
    known = {name: getattr(attachment, name) for name in ("kind", "caption", "rights_note")}
    form = CaptionForm(request.POST or None, initial=known, saved=known)
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            said, began = Caption(**form.typed()), Caption(**form.began())
            services.describe_attachment(pk, said=said, began=began, actor=request.user)
            return redirect("portal:interview-detail", pk=attachment.interview_id)
    context = {"form": form, "attachment": attachment}
    return render(request, "portal/attachments/edit.html", context, status=409 if form.conflicts else 200)


def take_out(request: SignedInRequest, pk: int) -> HttpResponse:
    attachment = _attachment(request, pk)
    form = TakeOutForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            services.take_out(pk, actor=request.user, **form.cleaned_data)
            return redirect("portal:interview-detail", pk=attachment.interview_id)
    return render(request, "portal/attachments/take_out.html", {"form": form, "attachment": attachment})


@require_safe
def file(request: SignedInRequest, pk: int) -> HttpResponseBase:
    attachment = _attachment(request, pk)
    if attachment.file is None:
        raise Http404("not stored yet")
    permit(request, Act.HEAR, attachment.interview)
    return serve_from_outside(request, attachment.file)


def _attachment(request: SignedInRequest, pk: int) -> Attachment:
    return get_object_or_404(visible(Attachment, request.user).select_related("upload", "file", "interview"), pk=pk)
