"""The queue: what waits for whom, and what is done to several interviews together."""

from collections.abc import Callable
from functools import partial

from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from intake import workflow
from intake.desk import queries, set_up
from intake.desk.queue_forms import EXPORT, HAND_OVER, TAKE_UP, QueueForm, SaveViewForm, TogetherForm
from intake.desk.queue_page import next_to_review, queue_page
from intake.desk.together import Outcome, do_to_each
from intake.queue import saved
from intake.web.refusals import refusals_as_messages
from intake.web.requests import SignedInRequest

DONE = {"take-up": "You review {} now.", "hand-over": "Handed over: {}.", "put-back": "Left to somebody else: {}."}
BEFORE = {"take-up": "Yours already: {}.", "hand-over": "Theirs already: {}.", "put-back": "Waiting already: {}."}


@require_safe
def queue(request: SignedInRequest) -> HttpResponse:
    form = QueueForm(request.GET)
    page = queue_page(form, request.user, after=request.GET.get("after", ""), before=request.GET.get("before", ""))
    context = {
        "notices": set_up.notices(request),
        "little_room": queries.little_room(),
        "forms_to_confirm": queries.forms_to_confirm(),
        "page": page,
        "keep": SaveViewForm(initial={"filters": page.filters}),
    }
    return render(request, "desk/queue/list.html", context)


@require_safe
def next_one(request: SignedInRequest) -> HttpResponse:
    found = next_to_review(request.user)
    if found:
        return redirect("desk:interview-detail", pk=found)
    messages.info(request, "Nothing waits for review.")
    return redirect("desk:queue")


@require_POST
def together(request: SignedInRequest) -> HttpResponse:
    form = TogetherForm(request.POST, user=request.user)
    if form.is_valid():
        act = form.cleaned_data["act"]
        if act == EXPORT:
            return redirect(
                f"{reverse('desk:exports')}?chosen={','.join(str(one.pk) for one in form.cleaned_data['chosen'])}"
            )
        chosen = form.cleaned_data["chosen"].prefetch_related("participants__person")
        _tell(request, act, do_to_each(chosen, _deed(act, form, request)))
    else:
        for reasons in form.errors.values():
            messages.error(request, str(reasons[0]))
    return _back(form.data.get("filters", ""))


@require_POST
def save_view(request: SignedInRequest) -> HttpResponse:
    form = SaveViewForm(request.POST)
    if form.is_valid():
        with refusals_as_messages(request):
            filters = _sane(form.cleaned_data["filters"])
            view = saved.save_view(name=form.cleaned_data["name"], filters=filters, owner=request.user)
            messages.success(request, f"The view “{view}” is kept.")
    else:
        messages.error(request, "A view needs a name of at most 60 characters, and filters.")
    return _back(form.data.get("filters", ""))


@require_POST
def delete_view(request: SignedInRequest, pk: int) -> HttpResponse:
    saved.delete_view(pk, owner=request.user)
    return _back(request.POST.get("filters", ""))


def _deed(act: str, form: TogetherForm, request: SignedInRequest) -> Callable[[int], object]:
    if act == TAKE_UP:
        return partial(workflow.take_up, actor=request.user)
    if act == HAND_OVER:
        typed = form.cleaned_data
        return partial(workflow.hand_over, to=typed["to"], note=typed["note"], actor=request.user)
    return partial(workflow.put_back, actor=request.user)


def _tell(request: SignedInRequest, act: str, outcome: Outcome) -> None:
    if outcome.done:
        messages.success(request, DONE[act].format(_interviews(outcome.done)))
    if outcome.before:
        messages.info(request, BEFORE[act].format(_interviews(outcome.before)))
    for reason, titles in outcome.refused.items():
        messages.error(request, f"{'; '.join(titles)}: {reason}")


def _interviews(titles: list[str]) -> str:
    return titles[0] if len(titles) == 1 else f"{len(titles)} interviews"


def _back(filters: str) -> HttpResponse:
    """To the queue as it was asked for."""
    kept = _sane(filters)
    return redirect(f"{reverse('desk:queue')}{'?' if kept else ''}{kept}")


def _sane(filters: str) -> str:
    """SECURITY: an address that somebody sent along is read as filters, and only those that are filters are kept."""
    return QueueForm(QueryDict(filters)).querystring()
