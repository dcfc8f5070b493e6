"""The narrator's turn behind its private link: hear, wish passages closed, put names right, say yes."""

from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST, require_safe

from intake.access.policy import Act, Audience
from intake.access.services import asked
from intake.interviews.services import parts_of
from intake.narrator.forms import AnswerForm, WishForm
from intake.narrator.opened import opened, permitted_part
from intake.outputs.models import OutputKind
from intake.outputs.naming import LISTENING_ENDING, copy_name
from intake.outputs.services import existing
from intake.releases import turns
from intake.releases.links import end_link
from intake.releases.models import NarratorsTurn, PrivateLink, Purpose
from intake.web.ranges import serve
from intake.web.refusals import refusals_as_messages, refusals_on


@login_not_required
def hear(request: HttpRequest) -> HttpResponse:
    """The recording, what is wished so far, and a form for one more wish."""
    link, turn = _turn(request)
    if link is None or turn is None:
        return render(request, "narrator/turn_ended.html", status=410)
    interview = turn.participant.interview
    parts = parts_of(interview)
    form = WishForm(request.POST or None, parts=parts)
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            turns.wish(turn.pk, **form.cleaned_data)
            return redirect("narrator:hear")
    context = {
        "turn": turn,
        "interview": interview,
        "why_not": asked(Act.HEAR, interview, Audience.PARTY).because,
        "parts": [(part, existing(OutputKind.LISTENING_COPY, part.pk)) for part in parts],
        "wishes": turns.wishes_of(turn),
        "form": form,
        "answer": AnswerForm(),
    }
    return render(request, "narrator/hear.html", context)


@login_not_required
@require_safe
def listen(request: HttpRequest, pk: int) -> HttpResponseBase:
    link, turn = _turn(request)
    part = permitted_part(link if turn else None, pk, Act.HEAR)
    made = existing(OutputKind.LISTENING_COPY, part.pk)
    if made is None:
        raise Http404("being made")
    return serve(request, made.file, name=copy_name(part, LISTENING_ENDING))


@login_not_required
@require_POST
def take_back(request: HttpRequest, pk: int) -> HttpResponse:
    _, turn = _turn(request)
    if turn is None:
        return render(request, "narrator/turn_ended.html", status=410)
    with refusals_as_messages(request):
        turns.take_back(turn.pk, pk)
    return redirect("narrator:hear")


@login_not_required
@require_POST
def answer(request: HttpRequest) -> HttpResponse:
    """The narrator is done; the link dies with the answer."""
    link, turn = _turn(request)
    if link is None or turn is None:
        return render(request, "narrator/turn_ended.html", status=410)
    form = AnswerForm(request.POST)
    if form.is_valid():
        with refusals_as_messages(request):
            turns.answer(turn.pk, corrections=form.cleaned_data["corrections"])
            end_link(link, actor=None)
            return render(request, "narrator/turn_ended.html", {"answered": True})
    return redirect("narrator:hear")


def _turn(request: HttpRequest) -> tuple[PrivateLink | None, NarratorsTurn | None]:
    """The link that was opened, and the turn it is for."""
    link = opened(request, Purpose.HEAR)
    return link, turns.open_turn(link.participant) if link else None
