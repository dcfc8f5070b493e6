"""What may not be heard: closed passages of a part, and closures that end when something has happened."""

from django.contrib import messages
from django.http import HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_safe

from intake.access.policy import Act
from intake.access.querysets import visible
from intake.desk.forms import ClosePassageForm, EventForm, OpenPassageForm
from intake.interviews.models import Part
from intake.outputs.access_copies import access_copy_of
from intake.outputs.naming import ACCESS_ENDING, copy_name
from intake.releases import passages, restrictions
from intake.releases.models import ClosedPassage, Release
from intake.web.once import once
from intake.web.parts import part_row
from intake.web.permits import permit
from intake.web.ranges import serve
from intake.web.refusals import refusals_on
from intake.web.requests import SignedInRequest


def part_passages(request: SignedInRequest, pk: int) -> HttpResponse:
    """Listen, and close what nobody outside is to hear."""
    part = _part(request, pk)
    row = part_row(part, listen="desk:part-listen", user=request.user)
    form = ClosePassageForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            return once(request, lambda: _close(request, part, row.seconds, form))
    context = {
        "part": part,
        "row": row,
        "form": form,
        "passages": passages.closed_passages(part),
        "opened": part.closed_passages.exclude(opened_at=None).select_related("opened_by"),
    }
    return render(request, "desk/parts/passages.html", context)


def open_passage(request: SignedInRequest, pk: int) -> HttpResponse:
    parts = visible(Part, request.user)
    passage = get_object_or_404(ClosedPassage.objects.select_related("part__interview"), pk=pk, part__in=parts)
    form = OpenPassageForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            passages.open_passage(pk, reason=form.cleaned_data["reason"], actor=request.user)
            return redirect("desk:part-passages", pk=passage.part_id)
    return render(request, "desk/parts/open_passage.html", {"passage": passage, "form": form})


def event(request: SignedInRequest, pk: int) -> HttpResponse:
    """Record that what a signer named has happened, and that the closure has ended with it."""
    release = get_object_or_404(visible(Release, request.user).select_related("participant__interview"), pk=pk)
    form = EventForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            restrictions.record_event(pk, actor=request.user, **form.cleaned_data)
            messages.success(request, "The closure has ended. What the other releases say still holds.")
            return redirect("desk:interview-detail", pk=release.participant.interview_id)
    return render(request, "desk/releases/event.html", {"release": release, "form": form})


@require_safe
def access_copy(request: SignedInRequest, pk: int) -> HttpResponseBase:
    """The copy that may leave: closed passages are silent in it."""
    part = _part(request, pk)
    permit(request, Act.TAKE, part.interview)
    copy = access_copy_of(part)
    if copy is None:
        messages.info(request, "The access copy is being made. Ask for it again in a minute.")
        return redirect("desk:interview-detail", pk=part.interview_id)
    return serve(request, copy.file, download=True, name=copy_name(part, ACCESS_ENDING))


def _close(request: SignedInRequest, part: Part, length_seconds: float | None, form: ClosePassageForm) -> HttpResponse:
    passages.close_passage(part.pk, length_seconds=length_seconds, actor=request.user, **form.cleaned_data)
    return redirect("desk:part-passages", pk=part.pk)


def _part(request: SignedInRequest, pk: int) -> Part:
    return get_object_or_404(
        visible(Part, request.user).select_related("upload", "file", "interview__collection"), pk=pk
    )
