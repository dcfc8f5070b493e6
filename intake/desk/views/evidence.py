"""What proves a signature, looked at again: the text, the circumstances, the chain of events, the signed PDF."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from intake.access.querysets import visible
from intake.outputs.evidence import check_evidence
from intake.releases.models import Agreement, Release
from intake.web.requests import SignedInRequest


@require_safe
def of_release(request: SignedInRequest, pk: int) -> HttpResponse:
    rows = visible(Release, request.user).select_related("participant__interview", "wording", "session__link")
    return _page(request, get_object_or_404(rows, pk=pk))


@require_safe
def of_agreement(request: SignedInRequest, pk: int) -> HttpResponse:
    rows = visible(Agreement, request.user).select_related("participant__interview", "wording", "session__link")
    return _page(request, get_object_or_404(rows, pk=pk))


def _page(request: SignedInRequest, signed: Release | Agreement) -> HttpResponse:
    lines = check_evidence(signed)
    context = {
        "signed": signed,
        "interview": signed.participant.interview,
        "lines": lines,
        "holds": all(line.holds for line in lines),
    }
    return render(request, "desk/releases/evidence.html", context)
