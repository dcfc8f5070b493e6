"""The narrator's turn behind its private link: hear, wish passages closed, put names right, say yes."""

from django.contrib.auth.decorators import login_not_required
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from intake.access.policy import Act, Audience
from intake.access.services import asked
from intake.interviews.models import Part
from intake.interviews.services import parts_of
from intake.narrator.forms import AnswerForm, WishForm
from intake.outputs.models import OutputKind
from intake.outputs.naming import LISTENING_ENDING, copy_name
from intake.outputs.services import existing
from intake.releases import turns
from intake.releases.links import end_link, link_opened
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
    """SECURITY: a part of the one interview that the link is for, as the policy allows it at this moment."""
    _, turn = _turn(request)
    if turn is None:
        raise Http404("no link was opened in this browser")
    part = get_object_or_404(Part.objects.select_related("interview__collection"), pk=pk)
    if part.interview_id != turn.participant.interview_id or part.position is None:
        raise Http404("not a part of the interview that the link is for")
    answer = asked(Act.HEAR, part.interview, Audience.PARTY)
    if not answer.allowed:
        raise PermissionDenied(answer.because)
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
    """The link this browser was switched to, and the turn it is for; none for whoever has signed in since then."""
    if request.user.is_authenticated:
        return None, None
    link = link_opened(request.session.get(Purpose.HEAR), Purpose.HEAR)
    return link, turns.open_turn(link.participant) if link else None
