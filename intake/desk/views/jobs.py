"""Background work: what waits, what runs, what failed and can be tried again."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from intake.jobs import services
from intake.jobs.models import Job, JobState
from intake.web.requests import SignedInRequest


@require_safe
def jobs(request: SignedInRequest) -> HttpResponse:
    return render(request, "desk/jobs/list.html", {"jobs": services.unfinished()[:200]})


@require_POST
def retry(request: SignedInRequest, pk: int) -> HttpResponse:
    job = get_object_or_404(Job, pk=pk, state=JobState.FAILED)
    services.retry_now(job.pk)
    return redirect("desk:jobs")
