"""Handing the device over for a signature, and the signers' copies."""

from django.contrib import messages
from django.contrib.auth import logout
from django.http import Http404, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_safe

from intake.access.querysets import visible
from intake.errors import Refused
from intake.interviews.models import Participant
from intake.interviews.participants import say_whether_alone
from intake.interviews.services import parts_of
from intake.outputs import private_links
from intake.outputs.models import OutputKind
from intake.outputs.services import existing
from intake.portal.forms import AloneForm, LinkForm, SpokenForm, WithdrawForm
from intake.releases.models import Agreement, Moment, Release
from intake.releases.services import SESSION_LASTS, note_spoken_agreement, open_signing
from intake.releases.withdrawals import withdraw_release
from intake.web.middleware import forget
from intake.web.papers import paper_answer
from intake.web.refusals import refusals_on
from intake.web.requests import SignedInRequest


def hand_over(request: SignedInRequest, pk: int, moment: str) -> HttpResponse:
    """Switch this browser to one release or agreement.

    The volunteer is signed out: nobody signs for somebody else, and going back needs signing in.
    """
    participant = _participant(request, pk)
    reasons: tuple[str, ...] = ()
    if request.method == "POST":
        try:
            session = open_signing(pk, actor=request.user, moment=moment)
        except Refused as refused:
            reasons = refused.reasons
        else:
            logout(request)
            request.session["signing"] = session.pk
            # The signer's copy does not stay within reach of this browser for longer than the signing could last.
            request.session.set_expiry(int(SESSION_LASTS.total_seconds()))
            return forget(redirect("narrator:consent"))
    context = {
        "participant": participant,
        "paper": "agreement" if moment == Moment.AGREEMENT else "release",
        "is_own": participant.person.user_id == request.user.pk,
        "reasons": reasons,
    }
    return render(request, "portal/releases/hand_over.html", context)


def send_link(request: SignedInRequest, pk: int) -> HttpResponse:
    """Send the signer a private link by e-mail. The volunteer does not get to see it."""
    participant = _participant(request, pk)
    form = LinkForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            private_links.send_link_to_sign(pk, moment=form.cleaned_data["moment"], actor=request.user)
            messages.success(request, f"A link is on its way to {participant.person}.")
            return redirect("portal:interview-detail", pk=participant.interview_id)
    return render(request, "portal/releases/link.html", {"participant": participant, "form": form})


def spoken(request: SignedInRequest, pk: int) -> HttpResponse:
    """Note where on the recording somebody agrees aloud to take part."""
    participant = _participant(request, pk)
    form = SpokenForm(request.POST or None, parts=parts_of(participant.interview))
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            note_spoken_agreement(pk, actor=request.user, **form.cleaned_data)
            return redirect("portal:interview-detail", pk=participant.interview_id)
    return render(request, "portal/releases/spoken.html", {"participant": participant, "form": form})


def alone(request: SignedInRequest, pk: int) -> HttpResponse:
    """Say whether a narrator signs alone, or a guardian with or for them."""
    participant = _participant(request, pk)
    form = AloneForm(request.POST or None, initial={"needs_guardian": participant.needs_guardian})
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            say_whether_alone(pk, actor=request.user, **form.cleaned_data)
            return redirect("portal:interview-detail", pk=participant.interview_id)
    return render(request, "portal/releases/alone.html", {"participant": participant, "form": form})


def withdraw(request: SignedInRequest, pk: int) -> HttpResponse:
    """Before acceptance: a signature is taken back at once, by the signer or by staff for them."""
    release = get_object_or_404(visible(Release, request.user).select_related("participant__interview"), pk=pk)
    form = WithdrawForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            withdraw_release(pk, reason=form.cleaned_data["reason"], actor=request.user)
            messages.success(request, f"Release {release.number} is withdrawn. It can be signed anew.")
            if request.user.is_archivist:
                return redirect("desk:interview-detail", pk=release.participant.interview_id)
            return redirect("portal:home")
    return render(request, "portal/releases/withdraw.html", {"release": release, "form": form})


@require_safe
def copy(request: SignedInRequest, pk: int) -> HttpResponseBase:
    release = get_object_or_404(visible(Release, request.user), pk=pk)
    paper = existing(OutputKind.RELEASE_COPY, release.pk)
    if paper is None:
        raise Http404("the copy is being made")
    return paper_answer(request, paper)


@require_safe
def agreement_copy(request: SignedInRequest, pk: int) -> HttpResponseBase:
    agreement = get_object_or_404(visible(Agreement, request.user), pk=pk)
    paper = existing(OutputKind.AGREEMENT_COPY, agreement.pk)
    if paper is None:
        raise Http404("the copy is being made")
    return paper_answer(request, paper)


def _participant(request: SignedInRequest, pk: int) -> Participant:
    return get_object_or_404(visible(Participant, request.user).select_related("person", "interview"), pk=pk)
