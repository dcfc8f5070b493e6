"""The review of one interview: look, listen, answer, decide."""

from pathlib import Path

from django.contrib import messages
from django.http import Http404, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from intake import readiness, workflow
from intake.access.policy import Act
from intake.access.querysets import visible
from intake.desk.forms import AnswerForm, DeclineForm, SendBackForm
from intake.desk.queue_forms import HandOverForm
from intake.desk.review_page import review_page
from intake.errors import Refused
from intake.interviews.models import Attachment, Interview, Part
from intake.outputs.copies import described_copy_of
from intake.outputs.models import Output, OutputKind
from intake.outputs.naming import LISTENING_ENDING, WORKING_ENDING, copy_name
from intake.outputs.services import existing, receipt_of
from intake.register.models import Arrival
from intake.releases.models import Release
from intake.review import services
from intake.review.messages import begun_message
from intake.web.papers import paper_answer
from intake.web.permits import permit
from intake.web.ranges import serve, serve_from_outside
from intake.web.refusals import refusals_as_messages, refusals_on
from intake.web.requests import SignedInRequest
from intake.web.scripts import keep


@require_safe
def detail(request: SignedInRequest, pk: int) -> HttpResponse:
    return render(request, "desk/interviews/detail.html", {"page": review_page(_interview(request, pk), request.user)})


@require_POST
def take_up(request: SignedInRequest, pk: int) -> HttpResponse:
    interview = _interview(request, pk)
    with refusals_as_messages(request):
        workflow.take_up(interview.pk, actor=request.user)
    return redirect("desk:interview-detail", pk=pk)


@require_POST
def take_over(request: SignedInRequest, pk: int) -> HttpResponse:
    interview = _interview(request, pk)
    with refusals_as_messages(request):
        workflow.take_over(interview.pk, actor=request.user)
    return redirect("desk:interview-detail", pk=pk)


def hand_over(request: SignedInRequest, pk: int) -> HttpResponse:
    interview = _interview(request, pk)
    form = HandOverForm(request.POST or None, user=request.user)
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            workflow.hand_over(pk, actor=request.user, **form.cleaned_data)
            messages.success(request, f"{form.cleaned_data['to']} reviews it now.")
            return redirect("desk:interview-detail", pk=pk)
    return render(request, "desk/interviews/hand_over.html", {"form": form, "interview": interview})


@require_POST
def put_back(request: SignedInRequest, pk: int) -> HttpResponse:
    interview = _interview(request, pk)
    with refusals_as_messages(request):
        workflow.put_back(interview.pk, actor=request.user)
        messages.success(request, "It waits in the queue again, in its old place.")
    return redirect("desk:interview-detail", pk=pk)


@require_POST
def accept(request: SignedInRequest, pk: int) -> HttpResponse:
    interview = _interview(request, pk)
    with refusals_as_messages(request):
        accession = workflow.accept(interview.pk, actor=request.user)
        messages.success(request, f"Accepted as {accession.number}. The receipt is being made.")
        for sentence in readiness.worth_knowing(accession.interview):
            messages.warning(request, sentence)
    return redirect("desk:interview-detail", pk=pk)


def send_back(request: SignedInRequest, pk: int) -> HttpResponse:
    interview = _interview(request, pk)
    form = SendBackForm(request.POST or None, initial={"message": begun_message(interview)})
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            workflow.send_back(pk, message=form.cleaned_data["message"], actor=request.user)
            return redirect("desk:interview-detail", pk=pk)
    return render(request, "desk/interviews/send_back.html", {"form": form, "interview": interview})


def decline(request: SignedInRequest, pk: int) -> HttpResponse:
    interview = _interview(request, pk)
    form = DeclineForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            workflow.decline(pk, reason=form.cleaned_data["reason"], actor=request.user)
            return redirect("desk:interview-detail", pk=pk)
    return render(request, "desk/interviews/decline.html", {"form": form, "interview": interview})


@require_POST
def answer(request: SignedInRequest, pk: int) -> HttpResponse:
    part = get_object_or_404(visible(Part, request.user), pk=pk)
    form = AnswerForm(request.POST)

    def kept() -> None:
        if not form.is_valid():
            raise Refused(*(str(reasons[0]) for reasons in form.errors.values()))
        services.answer_finding(pk, actor=request.user, **form.cleaned_data)

    return keep(request, kept, back=reverse("desk:interview-detail", args=[part.interview_id]) + f"#part-{part.pk}")


@require_safe
def listen(request: SignedInRequest, pk: int) -> HttpResponseBase:
    part = _part(request, pk)
    permit(request, Act.HEAR, part.interview)
    return _copy(request, part, existing(OutputKind.LISTENING_COPY, part.pk), LISTENING_ENDING)


@require_safe
def working_copy(request: SignedInRequest, pk: int) -> HttpResponseBase:
    part = _part(request, pk)
    permit(request, Act.KEEP, part.interview)
    return _copy(request, part, existing(OutputKind.WORKING_COPY, part.pk), WORKING_ENDING, download=True)


@require_safe
def described_copy(request: SignedInRequest, pk: int) -> HttpResponseBase:
    part = _part(request, pk)
    permit(request, Act.KEEP, part.interview)
    copy = described_copy_of(part)
    return _copy(request, part, copy, Path(copy.file.name).suffix if copy else "", download=True)


@require_safe
def original(request: SignedInRequest, pk: int) -> HttpResponseBase:
    part = _part(request, pk)
    permit(request, Act.KEEP, part.interview)
    if part.file is None:
        raise Http404("not stored yet")
    return serve(request, part.file, download=True)


@require_safe
def attachment(request: SignedInRequest, pk: int) -> HttpResponseBase:
    found = get_object_or_404(visible(Attachment, request.user).select_related("file", "interview"), pk=pk)
    permit(request, Act.HEAR, found.interview)
    if found.file is None:
        raise Http404("not stored yet")
    return serve_from_outside(request, found.file)


@require_safe
def release_copy(request: SignedInRequest, pk: int) -> HttpResponseBase:
    return _output(request, OutputKind.RELEASE_COPY, get_object_or_404(visible(Release, request.user), pk=pk).pk)


@require_safe
def arrival_receipt(request: SignedInRequest, pk: int) -> HttpResponseBase:
    arrival = get_object_or_404(Arrival, pk=pk, interview__in=visible(Interview, request.user))
    return _output(request, OutputKind.ARRIVAL_RECEIPT, arrival.pk)


@require_safe
def receipt(request: SignedInRequest, pk: int) -> HttpResponseBase:
    paper = receipt_of(_interview(request, pk))
    if paper is None:
        raise Http404("no receipt yet")
    return paper_answer(request, paper)


def _output(request: SignedInRequest, kind: str, subject_id: int) -> HttpResponseBase:
    made = existing(kind, subject_id)
    if made is None:
        raise Http404("not made yet")
    return paper_answer(request, made)


def _copy(
    request: SignedInRequest, part: Part, made: Output | None, ending: str, *, download: bool = False
) -> HttpResponseBase:
    if made is None:
        raise Http404("not made yet")
    return serve(request, made.file, download=download, name=copy_name(part, ending))


def _part(request: SignedInRequest, pk: int) -> Part:
    return get_object_or_404(visible(Part, request.user).select_related("file", "interview__collection"), pk=pk)


def _interview(request: SignedInRequest, pk: int) -> Interview:
    return get_object_or_404(
        visible(Interview, request.user).select_related("owner", "given_by__user", "collection", "reviewer"), pk=pk
    )
