"""A volunteer's interviews: list, begin, describe, order, hand in."""

from django.contrib import messages
from django.http import Http404, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from intake import readiness, workflow
from intake.access.policy import Act
from intake.access.querysets import visible
from intake.interviews import participants, services
from intake.interviews.models import Interview, Part, Participant
from intake.interviews.services import Description
from intake.outputs.models import OutputKind
from intake.outputs.naming import LISTENING_ENDING, copy_name
from intake.outputs.services import existing, receipt_of
from intake.portal import panels, queries
from intake.portal.forms import (
    AskWithdrawalForm,
    AttachmentForm,
    EditForm,
    ParticipantForm,
    PersonEditForm,
    StartForm,
    WithdrawForm,
)
from intake.qc.sequence import recorders_order
from intake.register.models import Arrival
from intake.web.once import once
from intake.web.papers import paper_answer
from intake.web.parts import part_row
from intake.web.permits import permit
from intake.web.ranges import serve
from intake.web.refusals import refusals_as_messages, refusals_on
from intake.web.requests import SignedInRequest


@require_safe
def home(request: SignedInRequest) -> HttpResponse:
    interviews = queries.newest_first(Interview.objects.filter(owner=request.user))
    return render(request, "portal/home.html", {"interviews": interviews})


def start(request: SignedInRequest) -> HttpResponse:
    form = StartForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            return once(request, lambda: _start(request, form))
    return render(request, "portal/interviews/start.html", {"form": form})


def _start(request: SignedInRequest, form: StartForm) -> HttpResponse:
    interview = services.start(
        actor=request.user,
        description=form.description(),
        narrator_name=form.cleaned_data["narrator_name"],
        narrator_email=form.cleaned_data["narrator_email"],
    )
    return redirect("portal:interview-detail", pk=interview.pk)


@require_safe
def detail(request: SignedInRequest, pk: int) -> HttpResponse:
    interview = _interview(request, pk)
    context = {
        "page": queries.interview_page(interview, request.user),
        "panel": panels.part_panel(interview, request.user),
        "attachment_panel": panels.attachment_panel(interview, request.user),
        "attachment_form": AttachmentForm.in_panel(),
        "person_form": ParticipantForm(interview=interview),
    }
    return render(request, "portal/interviews/detail.html", context)


@require_safe
def parts(request: SignedInRequest, pk: int) -> HttpResponse:
    """The recordings and what stands at the top of the page, for refreshing in place."""
    return render(
        request,
        "portal/interviews/_parts.html",
        {"page": queries.interview_page(_interview(request, pk), request.user), "refreshing": True},
    )


def edit(request: SignedInRequest, pk: int) -> HttpResponse:
    interview = _interview(request, pk)
    form = EditForm(request.POST or None, instance=interview)
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            typed, began = Description(**form.typed()), Description(**form.began())
            services.describe(pk, actor=request.user, description=typed, began=began)
            return redirect("portal:interview-detail", pk=pk)
    # Read again for the heading: checking the form has written what was typed into the first.
    context = {"form": form, "interview": _interview(request, pk)}
    return render(request, "portal/interviews/edit.html", context, status=409 if form.conflicts else 200)


@require_POST
def submit(request: SignedInRequest, pk: int) -> HttpResponse:
    interview = _interview(request, pk)
    with refusals_as_messages(request):
        workflow.submit(interview.pk, actor=request.user)
        for sentence in readiness.worth_knowing(interview):
            messages.warning(request, f"{sentence} The library sees it too; you need not do anything.")
    return redirect("portal:interview-detail", pk=pk)


def withdraw(request: SignedInRequest, pk: int) -> HttpResponse:
    interview = _interview(request, pk)
    form = WithdrawForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            workflow.withdraw(pk, reason=form.cleaned_data["reason"], actor=request.user)
            return redirect("portal:interview-detail", pk=pk)
    return render(request, "portal/interviews/withdraw.html", {"form": form, "interview": interview})


def withdrawal(request: SignedInRequest, pk: int) -> HttpResponse:
    """After acceptance: ask for it. The library's staff decide."""
    interview = _interview(request, pk)
    form = AskWithdrawalForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            workflow.ask_withdrawal(pk, actor=request.user, **form.cleaned_data)
            messages.success(request, "The library is asked. From now on nobody else hears the interview.")
            return redirect("desk:interview-detail" if request.user.is_archivist else "portal:interview-detail", pk=pk)
    return render(request, "portal/interviews/withdrawal.html", {"form": form, "interview": interview})


def add_person(request: SignedInRequest, pk: int) -> HttpResponse:
    interview = _interview(request, pk)
    form = ParticipantForm(request.POST or None, interview=interview)
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            return once(request, lambda: _add_person(request, pk, form))
    return render(request, "portal/interviews/person.html", {"form": form, "interview": interview})


def _add_person(request: SignedInRequest, pk: int, form: ParticipantForm) -> HttpResponse:
    participants.add_participant(pk, actor=request.user, **form.cleaned_data)
    return redirect("portal:interview-detail", pk=pk)


def edit_person(request: SignedInRequest, pk: int) -> HttpResponse:
    participant = get_object_or_404(visible(Participant, request.user).select_related("person", "interview"), pk=pk)
    known = {"name": participant.person.name, "email": participant.person.email}
    form = PersonEditForm(request.POST or None, initial=known, saved=known)
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            participants.correct_participant(pk, actor=request.user, **form.typed(), began=form.began())
            return redirect("portal:interview-detail", pk=participant.interview_id)
    context = {"form": form, "interview": participant.interview, "person": participant.person}
    return render(request, "portal/interviews/person_edit.html", context, status=409 if form.conflicts else 200)


@require_POST
def remove_person(request: SignedInRequest, pk: int) -> HttpResponse:
    participant = get_object_or_404(visible(Participant, request.user), pk=pk)
    with refusals_as_messages(request):
        participants.remove_participant(pk, actor=request.user)
    return redirect("portal:interview-detail", pk=participant.interview_id)


@require_POST
def remove_part(request: SignedInRequest, pk: int) -> HttpResponse:
    part = get_object_or_404(visible(Part, request.user), pk=pk)
    with refusals_as_messages(request):
        services.remove_part(pk, actor=request.user)
        messages.info(request, f"“{part.upload.name}” is out of this interview.")
    return redirect("portal:interview-detail", pk=part.interview_id)


@require_POST
def put_back(request: SignedInRequest, pk: int) -> HttpResponse:
    part = get_object_or_404(visible(Part, request.user), pk=pk)
    with refusals_as_messages(request):
        services.put_back(pk, actor=request.user)
    return redirect("portal:interview-detail", pk=part.interview_id)


@require_POST
def move_part(request: SignedInRequest, pk: int) -> HttpResponse:
    part = get_object_or_404(visible(Part, request.user), pk=pk)
    with refusals_as_messages(request):
        services.move_part(pk, earlier=request.POST.get("to") == "earlier", actor=request.user)
    return redirect("portal:interview-detail", pk=part.interview_id)


@require_POST
def order_parts(request: SignedInRequest, pk: int) -> HttpResponse:
    """Put the parts in the order that the recorder tells of."""
    interview = get_object_or_404(visible(Interview, request.user), pk=pk)
    with refusals_as_messages(request):
        if order := recorders_order(services.parts_of(interview)):
            services.order_parts(pk, order=order, actor=request.user)
    return redirect("portal:interview-detail", pk=pk)


@require_safe
def part(request: SignedInRequest, pk: int) -> HttpResponse:
    """One recording: listen to it, and see what was measured and where."""
    shown = get_object_or_404(visible(Part, request.user).select_related("upload", "file", "interview"), pk=pk)
    row = part_row(shown, listen="portal:part-listen", user=request.user)
    return render(request, "portal/parts/detail.html", {"row": row})


@require_safe
def listen(request: SignedInRequest, pk: int) -> HttpResponseBase:
    part = get_object_or_404(visible(Part, request.user).select_related("interview__collection"), pk=pk)
    permit(request, Act.HEAR, part.interview)
    copy = existing(OutputKind.LISTENING_COPY, part.pk)
    if copy is None:
        raise Http404("no listening copy yet")
    return serve(request, copy.file, name=copy_name(part, LISTENING_ENDING))


@require_safe
def arrival_receipt(request: SignedInRequest, pk: int) -> HttpResponseBase:
    arrival = get_object_or_404(Arrival, pk=pk, interview__in=visible(Interview, request.user))
    paper = existing(OutputKind.ARRIVAL_RECEIPT, arrival.pk)
    if paper is None:
        raise Http404("not made yet")
    return paper_answer(request, paper)


@require_safe
def receipt(request: SignedInRequest, pk: int) -> HttpResponseBase:
    interview = _interview(request, pk)
    paper = receipt_of(interview)
    if paper is None:
        return render(request, "portal/interviews/no_receipt.html", {"interview": interview}, status=404)
    return paper_answer(request, paper)


def _interview(request: SignedInRequest, pk: int) -> Interview:
    return get_object_or_404(
        visible(Interview, request.user).select_related("owner", "given_by__user", "collection"), pk=pk
    )
