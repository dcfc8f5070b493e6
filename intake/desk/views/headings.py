"""The lists of headings: the library's own, and those that others keep and that are read from files."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_safe

from intake.catalogue import headings
from intake.catalogue.models import AuthorityList, Heading, ListReading
from intake.desk.description_forms import ListFileForm, OwnHeadingForm
from intake.errors import Refused
from intake.jobs.models import Job, Kind
from intake.jobs.services import open_jobs
from intake.web.once import once
from intake.web.refusals import refusals_on
from intake.web.requests import SignedInRequest

PER_PAGE = 100
LATEST = 10


def lists(request: SignedInRequest) -> HttpResponse:
    """All lists; and a file of headings to read."""
    form = ListFileForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            return once(request, lambda: _take_in(request, form))
    readings = list(ListReading.objects.select_related("authority", "file", "by")[:LATEST])
    waiting = {job.subject_id: job for job in open_jobs(Kind.READ_LIST, [reading.pk for reading in readings])}
    context = {
        "form": form,
        "lists": [(one, one.headings.filter(is_current=True).count()) for one in AuthorityList.objects.all()],
        "readings": [(reading, _percent(waiting.get(str(reading.pk)))) for reading in readings],
        "is_pending": bool(waiting),
    }
    return render(request, "desk/headings/lists.html", context)


def _percent(job: Job | None) -> float | None:
    return job.progress * 100 if job and job.progress is not None else None


def _take_in(request: SignedInRequest, form: ListFileForm) -> HttpResponse:
    given = form.cleaned_data
    if given["file"].size > headings.LARGEST_BYTES:
        raise Refused(f"The file is larger than {headings.LARGEST_BYTES // 1_000_000} MB.")
    headings.take_in_list(
        given["name"],
        given["code"],
        kind=given["kind"],
        file_name=given["file"].name,
        content=given["file"].read(),
        actor=request.user,
    )
    messages.success(request, "The file is kept and being read. You need not wait for it here.")
    return redirect("desk:heading-lists")


@require_safe
def one_list(request: SignedInRequest, pk: int) -> HttpResponse:
    """Its headings, or those in whose names a word begins as asked for."""
    authority = get_object_or_404(AuthorityList, pk=pk)
    typed = request.GET.get("typed", "")[:100]
    page = Paginator(headings.of_list(authority, typed), PER_PAGE).get_page(request.GET.get("page"))
    return render(request, "desk/headings/list.html", {"list": authority, "page": page, "typed": typed})


def heading(request: SignedInRequest, pk: int | None = None) -> HttpResponse:
    """A heading of the library's own list: a new one, or one to change."""
    found = get_object_or_404(Heading, pk=pk, authority__is_own=True) if pk else None
    initial = {name: getattr(found, name) for name in OwnHeadingForm.base_fields} if found else None
    form = OwnHeadingForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            return once(request, lambda: _write(request, found, form))
    return render(request, "desk/headings/heading.html", {"heading": found, "form": form})


def _write(request: SignedInRequest, found: Heading | None, form: OwnHeadingForm) -> HttpResponse:
    written = headings.write_heading(found, actor=request.user, **form.cleaned_data)
    return redirect("desk:heading-list", pk=written.authority_id)
