"""The papers of one interview: read them, send them, issue them again; write a letter; print labels."""

from django.contrib import messages
from django.http import Http404, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from intake.access.policy import Act
from intake.access.querysets import visible
from intake.desk.forms import LabelsForm, LetterForm, ReissueForm, SendPaperForm
from intake.interviews.models import Interview, Part, Participant
from intake.outputs import issuing, letters
from intake.outputs.labels import label_sheet
from intake.outputs.models import PAPERS, LetterKind, Output
from intake.outputs.paper.letter import WrittenLetter
from intake.outputs.papers import paper_told
from intake.people.models import Person
from intake.people.services import address_of
from intake.register.services import standing
from intake.web.once import once
from intake.web.papers import paper_answer, pdf_answer
from intake.web.permits import permit
from intake.web.refusals import refusals_as_messages, refusals_on
from intake.web.requests import SignedInRequest


@require_safe
def papers(request: SignedInRequest, pk: int) -> HttpResponse:
    interview = _interview(request, pk)
    kind = letters.kind_for(interview)
    context = {
        "interview": interview,
        "papers": [(row, issuing.messages_with(row.newest)) for row in issuing.papers_of(interview)],
        "letter_kind": kind,
        "addressees": letters.addressees_of(interview) if kind else [],
        "parts": issuing.parts_to_report(interview),
        "accession": standing(interview),
    }
    return render(request, "desk/papers/list.html", context)


@require_safe
def paper(request: SignedInRequest, pk: int) -> HttpResponseBase:
    made = _paper(request, pk)
    permit(request, Act.SEE, made.interview)
    return paper_answer(request, made)


def send(request: SignedInRequest, pk: int) -> HttpResponse:
    made = issuing.newest_of(_paper(request, pk))
    form = SendPaperForm(request.POST or None, holders=issuing.to_be_sent(made))
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            issuing.send_paper(made, to=form.cleaned_data["to"], actor=request.user)
            messages.success(request, "It is on its way. Under “Messages” you see whether it has been taken.")
            return redirect("desk:interview-papers", pk=made.interview_id)
    context = {
        "form": form,
        "paper": made,
        "title": issuing.title_of(made),
        "without": [holder for holder in issuing.holders_of(made) if not holder.address],
        "sent": issuing.messages_with(made),
    }
    return render(request, "desk/papers/send.html", context)


def reissue(request: SignedInRequest, pk: int) -> HttpResponse:
    made = _paper(request, pk)
    told = paper_told(made)
    words = {"text": told.text} if isinstance(told, WrittenLetter) else {}
    form = ReissueForm(request.POST or None, initial=words, is_letter=bool(words))
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            issuing.reissue(made, actor=request.user, **form.cleaned_data)
            messages.success(request, "The new version is being made, and goes to everybody who has an address.")
            return redirect("desk:interview-papers", pk=made.interview_id)
    context = {"form": form, "paper": made, "title": issuing.title_of(made), "holders": issuing.holders_of(made)}
    return render(request, "desk/papers/reissue.html", context)


def write_letter(request: SignedInRequest, pk: int, person: int) -> HttpResponse:
    """A letter to one person. It begins with the library's text in the language asked for, to go on with."""
    interview = _interview(request, pk)
    kind = letters.kind_for(interview)
    addressee = next((one for one in letters.addressees_of(interview) if one.pk == person), None)
    if kind is None or addressee is None:
        raise Http404("no letter to this person now")
    language = letters.standing_text(kind, request.GET.get("language") or interview.language).language
    initial = {
        "text": letters.begun(kind, addressee, interview, language=language, sender=request.user),
        "language": language,
        "by_email": bool(address_of(addressee)),
    }
    form = LetterForm(request.POST or None, initial=initial, address=address_of(addressee))
    preview = ""
    if request.method == "POST" and form.is_valid():
        if "preview" in request.POST:
            preview = form.cleaned_data["text"]
        else:
            with refusals_on(form):
                return once(request, lambda: _write(request, interview, kind, addressee, form))
    context = {
        "form": form,
        "interview": interview,
        "kind": kind,
        "person": addressee,
        "preview": preview,
        "languages": letters.LANGUAGES,
    }
    return render(request, "desk/papers/letter.html", context)


@require_POST
def quality_report(request: SignedInRequest, pk: int) -> HttpResponse:
    part = get_object_or_404(visible(Part, request.user).select_related("interview"), pk=pk)
    with refusals_as_messages(request):
        issuing.ask_for_quality_report(part, actor=request.user)
        messages.success(request, "The quality report is being made. Look again in a minute.")
    return redirect("desk:interview-papers", pk=part.interview_id)


def labels(request: SignedInRequest, pk: int) -> HttpResponse:
    interview = _interview(request, pk)
    if standing(interview) is None:
        raise Http404("labels carry the accession number")
    initial = {"papers": 1, "copies": len(interview.people(Participant.Role.NARRATOR)), "first": 1}
    form = LabelsForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            return pdf_answer(label_sheet(interview, **form.cleaned_data), f"labels-{interview.pk}.pdf")
    return render(request, "desk/papers/labels.html", {"form": form, "interview": interview})


def _write(
    request: SignedInRequest, interview: Interview, kind: LetterKind, person: Person, form: LetterForm
) -> HttpResponse:
    letter = letters.write_letter(interview.pk, kind=kind, person=person, actor=request.user, **form.cleaned_data)
    sent = " and sent by e-mail" if letter.by_email else ""
    messages.success(request, f"The letter to {person} is being made{sent}.")
    return redirect("desk:interview-papers", pk=interview.pk)


def _paper(request: SignedInRequest, pk: int) -> Output:
    made = get_object_or_404(Output.objects.select_related("file", "interview"), pk=pk, kind__in=PAPERS)
    _interview(request, made.interview_id)
    return made


def _interview(request: SignedInRequest, pk: int) -> Interview:
    chosen = visible(Interview, request.user).select_related("owner", "given_by__user", "collection")
    return get_object_or_404(chosen, pk=pk)
