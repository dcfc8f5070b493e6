"""The wish to withdraw an accepted interview: written down for whoever asks, and decided by staff."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from intake import workflow
from intake.access.querysets import visible
from intake.desk.forms import DecideWithdrawalForm
from intake.interviews.models import Interview
from intake.register.services import standing
from intake.releases.withdrawals import pending
from intake.web.refusals import refusals_on
from intake.web.requests import SignedInRequest


def withdrawal(request: SignedInRequest, pk: int) -> HttpResponse:
    """Look at the request that waits, and decide it."""
    interview = get_object_or_404(visible(Interview, request.user), pk=pk)
    form = DecideWithdrawalForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        decide = workflow.take_down if form.grants else workflow.refuse_withdrawal
        with refusals_on(form):
            decide(pk, reason=form.cleaned_data["reason"], actor=request.user)
            messages.success(request, "It is decided, and whoever gave the interview is written to.")
            return redirect("desk:interview-detail", pk=pk)
    context = {
        "interview": interview,
        "accession": standing(interview),
        "asked": pending(interview),
        "earlier": interview.withdrawal_requests.exclude(decided_at=None).select_related("decided_by"),
        "form": form,
    }
    return render(request, "desk/interviews/withdrawal.html", context)
