"""Outline and transcript beside the sound. Scripts keep words one by one; forms work without them."""

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_POST, require_safe

from intake.access.policy import Act
from intake.access.querysets import visible
from intake.catalogue import timed, webvtt
from intake.catalogue.models import Cue, TimedText
from intake.desk.description_forms import CueForm, RespellForm, TextFileForm
from intake.desk.description_page import cue_urls, parts_in_order, text_page, voices_of
from intake.errors import Refused
from intake.interviews.models import Interview, Part
from intake.outputs.texts import files_told
from intake.web.once import once
from intake.web.permits import permit
from intake.web.refusals import refusals_as_messages, refusals_on
from intake.web.requests import SignedInRequest
from intake.web.scripts import ACCOUNT, answer_script
from intake.web.timecodes import full_timecode


def text(request: SignedInRequest, pk: int, kind: str) -> HttpResponse:
    """Everything that is written, beside the sound; and a file to read words from."""
    interview, kind = _interview(request, pk), _kind(kind)
    form = TextFileForm(request.POST or None, request.FILES or None, parts=parts_in_order(interview))
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            return once(request, lambda: _read(request, interview, kind, form))
    page = text_page(interview, _kind(kind), request.user)
    context = {"page": page, "form": form, "urls": cue_urls(interview, kind)}
    return render(request, "desk/texts/detail.html", context)


def _read(request: SignedInRequest, interview: Interview, kind: str, form: TextFileForm) -> HttpResponse:
    file = form.cleaned_data["file"]
    if file.size > webvtt.LARGEST_BYTES:
        raise Refused(f"The file is larger than {webvtt.LARGEST_BYTES // 1_000_000} MB; a transcript is smaller.")
    number = timed.read_file(
        interview.pk,
        kind=kind,
        part=form.cleaned_data["part"],
        name=file.name,
        content=file.read(),
        actor=request.user,
    )
    messages.success(request, f"Read: {number} {'cue' if number == 1 else 'cues'} with their times.")
    return redirect("desk:text", pk=interview.pk, kind=kind)


def cue_write(request: SignedInRequest, pk: int, kind: str) -> HttpResponse:
    """New words at a time of a part."""
    kind = _kind(kind)
    part = get_object_or_404(visible(Part, request.user).select_related("interview"), pk=pk)
    form = CueForm(request.POST or None, parts=parts_in_order(part.interview), initial={"part": part.pk})
    if request.method == "POST":
        if ACCOUNT in request.headers:
            return answer_script(request, lambda: _row(request, _written(request, form, kind)))
        if form.is_valid():
            with refusals_on(form):
                return once(request, lambda: _to_text(_written(request, form, kind)))
    return _form_page(request, part.interview, kind, form)


def _written(request: SignedInRequest, form: CueForm, kind: str) -> Cue:
    _refuse_unless_valid(form)
    return timed.write_cue(form.cleaned_data["part"].pk, kind=kind, said=form.said(), actor=request.user)


def cue(request: SignedInRequest, pk: int) -> HttpResponse:
    """Change words, or their time."""
    found = _cue(request, pk)
    own_part = parts_in_order(found.text.interview).filter(pk=found.part_id)
    form = CueForm(request.POST or None, parts=own_part, initial=_initial(found))
    if request.method == "POST":
        if ACCOUNT in request.headers:
            return answer_script(request, lambda: _row(request, _changed(request, found, form)))
        if form.is_valid():
            with refusals_on(form):
                return _to_text(_changed(request, found, form))
    return _form_page(request, found.text.interview, _kind(found.text.kind), form, found)


def _changed(request: SignedInRequest, found: Cue, form: CueForm) -> Cue:
    _refuse_unless_valid(form)
    return timed.change_cue(found.pk, said=form.said(), began=form.cleaned_data["began"], actor=request.user)


@require_POST
def cue_remove(request: SignedInRequest, pk: int) -> HttpResponse:
    found = _cue(request, pk)
    if ACCOUNT in request.headers:
        return answer_script(request, lambda: _gone(request, found))
    with refusals_as_messages(request):
        timed.remove_cue(found.pk, actor=request.user)
    return _to_text(found)


def _gone(request: SignedInRequest, found: Cue) -> HttpResponse:
    timed.remove_cue(found.pk, actor=request.user)
    return HttpResponse(status=204)


@require_POST
def respell(request: SignedInRequest, pk: int, kind: str) -> HttpResponse:
    interview, kind, form = _interview(request, pk), _kind(kind), RespellForm(request.POST)
    with refusals_as_messages(request):
        if not form.is_valid():
            raise Refused("Say what is written, and how it is spelt.")
        number = timed.respell(interview.pk, kind=kind, actor=request.user, **form.cleaned_data)
        messages.success(
            request, f"Written “{form.cleaned_data['right']}” in {number} {'cue' if number == 1 else 'cues'}."
        )
    return redirect(f"{reverse('desk:text', args=[pk, kind])}#spellings")


@require_POST
def checked(request: SignedInRequest, pk: int, kind: str) -> HttpResponse:
    interview, kind = _interview(request, pk), _kind(kind)
    with refusals_as_messages(request):
        timed.check(interview.pk, kind=kind, actor=request.user)
    return redirect("desk:text", pk=pk, kind=kind)


@require_safe
def text_file(request: SignedInRequest, pk: int, name: str) -> HttpResponse:
    """One WebVTT file, as it may leave: without closed passages and withheld names."""
    interview = _interview(request, pk)
    permit(request, Act.HEAR, interview)
    found = next((file for file in files_told(interview) if file.name == name), None)
    if found is None:
        raise Http404("no words of that part")
    header = content_disposition_header(as_attachment=True, filename=found.name) or ""
    return HttpResponse(
        found.content, content_type=f"{webvtt.MEDIA_TYPE}; charset=utf-8", headers={"Content-Disposition": header}
    )


def _kind(told: str) -> TimedText.Kind:
    if told not in TimedText.Kind.values:
        raise Http404("no such words")
    return TimedText.Kind(told)


def _initial(found: Cue) -> dict[str, object]:
    return {
        "part": found.part_id,
        "from_seconds": full_timecode(found.starts_ms),
        "to_seconds": "" if found.ends_ms is None else full_timecode(found.ends_ms),
        "voice": found.voice,
        "words": found.words,
        "began": found.words,
    }


def _form_page(
    request: SignedInRequest, interview: Interview, kind: TimedText.Kind, form: CueForm, found: Cue | None = None
) -> HttpResponse:
    context = {"interview": interview, "kind": kind, "form": form, "cue": found, "voices": voices_of(interview)}
    return render(request, "desk/texts/cue.html", context)


def _refuse_unless_valid(form: CueForm) -> None:
    if not form.is_valid():
        raise Refused(*(str(sentence) for errors in form.errors.values() for sentence in errors))


def _row(request: SignedInRequest, found: Cue) -> HttpResponse:
    return render(request, "desk/texts/_cue.html", {"cue": found, "is_open": True})


def _to_text(found: Cue) -> HttpResponse:
    page = reverse("desk:text", args=[found.text.interview_id, found.text.kind])
    return redirect(f"{page}#cue-{found.pk}")


def _cue(request: SignedInRequest, pk: int) -> Cue:
    return get_object_or_404(
        Cue.objects.select_related("text__interview", "part"), pk=pk, part__in=visible(Part, request.user)
    )


def _interview(request: SignedInRequest, pk: int) -> Interview:
    return get_object_or_404(visible(Interview, request.user), pk=pk)
