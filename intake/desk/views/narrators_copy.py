"""A signer's own copy of an accepted recording: by a private link, or on something to hold in the hand."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from intake.access.querysets import visible
from intake.audit.actions import Action
from intake.audit.services import story_of
from intake.desk.forms import CarrierForm
from intake.interviews.models import Participant
from intake.outputs import private_links
from intake.releases.links import link_of
from intake.releases.models import Purpose
from intake.web.refusals import refusals_as_messages, refusals_on
from intake.web.requests import SignedInRequest


def copy(request: SignedInRequest, pk: int) -> HttpResponse:
    """How the copies of one signer stand; and noting one that was given by hand."""
    participant = _participant(request, pk)
    form = CarrierForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            private_links.note_copy_given(pk, actor=request.user, **form.cleaned_data)
            return redirect("desk:narrators-copy", pk=pk)
    given = story_of(participant.interview).filter(action=Action.COPY_GIVEN, subject_id=str(pk))
    context = {"participant": participant, "form": form, "link": link_of(participant, Purpose.COPY), "given": given}
    return render(request, "desk/interviews/narrators_copy.html", context)


@require_POST
def send_link(request: SignedInRequest, pk: int) -> HttpResponse:
    participant = _participant(request, pk)
    with refusals_as_messages(request):
        private_links.send_link_to_copy(pk, actor=request.user)
        messages.success(request, f"A link is on its way to {participant.person}.")
    return redirect("desk:narrators-copy", pk=pk)


def _participant(request: SignedInRequest, pk: int) -> Participant:
    return get_object_or_404(visible(Participant, request.user).select_related("person", "interview"), pk=pk)
