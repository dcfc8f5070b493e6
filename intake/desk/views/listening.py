"""While somebody listens: what is drawn, and what is kept of what they hear. Scripts ask; forms work without them."""

import json

from django.http import Http404, HttpResponse, HttpResponseBase, JsonResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from intake.access.policy import Act
from intake.access.querysets import visible
from intake.desk.forms import MarkForm, OpeningForm
from intake.desk.listening import told_of
from intake.errors import Refused
from intake.interviews.models import Interview, Mark, Part
from intake.outputs import pictures
from intake.outputs.models import Output, OutputKind
from intake.outputs.services import existing
from intake.review import listening
from intake.web.permits import permit
from intake.web.refusals import refusals_as_messages
from intake.web.requests import SignedInRequest
from intake.web.scripts import answer_script, keep


@require_safe
def picture(request: SignedInRequest, pk: int) -> HttpResponse:
    index = pictures.index_of(_picture(request, pk))
    return JsonResponse({**index, "levels": [len(tiles) for tiles in index["levels"]]})


@require_safe
def tile(request: SignedInRequest, pk: int, level: int, number: int) -> HttpResponseBase:
    found = pictures.tile_of(_picture(request, pk), level, number)
    if found is None:
        raise Http404("no such tile")
    return HttpResponse(
        found,
        content_type=pictures.MEDIA_TYPE,
        headers={"Content-Encoding": "gzip", "Cache-Control": "private, no-store"},
    )


@require_POST
def marks(request: SignedInRequest, pk: int) -> HttpResponse:
    part = _part(request, pk)
    form = MarkForm(request.POST)

    def kept() -> HttpResponse:
        if not form.is_valid():
            raise Refused("Write a note of at most 2,000 characters, at a time of the recording.")
        mark = listening.set_mark(part.pk, actor=request.user, **form.cleaned_data)
        return JsonResponse(told_of(mark, request.user))

    return answer_script(request, kept)


@require_POST
def remove_mark(request: SignedInRequest, pk: int) -> HttpResponse:
    mark = get_object_or_404(Mark.objects.select_related("part"), pk=pk, part__in=visible(Part, request.user))
    with refusals_as_messages(request):
        listening.remove_mark(mark.pk, actor=request.user)
    return redirect(reverse("desk:interview-detail", args=[mark.part.interview_id]) + "#listening")


@require_POST
def heard(request: SignedInRequest, pk: int) -> HttpResponse:
    part = _part(request, pk)

    def kept() -> HttpResponse:
        spans = listening.note_heard(part.pk, spans=_spans(request.POST.get("spans", "")), actor=request.user)
        return JsonResponse({"spans": spans})

    return answer_script(request, kept)


@require_POST
def opening(request: SignedInRequest, pk: int) -> HttpResponse:
    interview = get_object_or_404(visible(Interview, request.user), pk=pk)
    form = OpeningForm(request.POST)

    def check() -> None:
        if not form.is_valid():
            raise Refused("Choose whether it was heard; a note has at most 300 characters.")
        listening.check_opening(interview.pk, actor=request.user, **form.cleaned_data)

    return keep(request, check, back=reverse("desk:interview-detail", args=[pk]) + "#opening")


def _spans(told: str) -> list[tuple[float, float]]:
    """Stretches in seconds. Raises Refused for anything else."""
    try:
        spans = [(float(begins), float(ends)) for begins, ends in json.loads(told)]
    except (ValueError, TypeError, RecursionError) as error:
        raise Refused("These are no stretches of a recording.") from error
    if not all(0 <= begins < ends <= listening.LONGEST_SECONDS for begins, ends in spans):
        raise Refused("These are no stretches of a recording.")
    return spans


def _picture(request: SignedInRequest, pk: int) -> Output:
    part = _part(request, pk)
    permit(request, Act.HEAR, part.interview)
    made = existing(OutputKind.SOUND_PICTURE, part.pk)
    if made is None:
        raise Http404("not drawn yet")
    return made


def _part(request: SignedInRequest, pk: int) -> Part:
    return get_object_or_404(visible(Part, request.user).select_related("interview"), pk=pk)
