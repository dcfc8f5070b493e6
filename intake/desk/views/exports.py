"""Descriptions for other systems: chosen on a page, taken as a file."""

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.http import content_disposition_header

from intake.desk.queue_forms import PUBLIC, ExportForm
from intake.outputs.exporting import FORMATS, Wanted, export
from intake.web.refusals import refusals_on
from intake.web.requests import SignedInRequest


def exports(request: SignedInRequest) -> HttpResponse:
    initial = {"chosen": request.GET.get("chosen", ""), "audience": PUBLIC}
    form = ExportForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            return _file(request, form)
    return render(request, "desk/exports/list.html", {"form": form})


def _file(request: SignedInRequest, form: ExportForm) -> HttpResponse:
    asked = form.cleaned_data
    kind = FORMATS[asked["format"]]
    wanted = Wanted(asked["chosen"], asked["collection"], is_public=asked["audience"] == PUBLIC)
    content, number = export(asked["format"], wanted, actor=request.user)
    name = content_disposition_header(as_attachment=True, filename=f"oral-history-{number}.{kind.ending}") or ""
    return HttpResponse(content, content_type=kind.media_type, headers={"Content-Disposition": name})
