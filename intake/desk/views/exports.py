"""Descriptions for other systems: chosen on a page, taken as a file."""

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_safe

from intake.desk.queue_forms import PUBLIC, ExportForm
from intake.outputs.exporting import FORMATS, chosen
from intake.web.requests import SignedInRequest


@require_safe
def exports(request: SignedInRequest) -> HttpResponse:
    return render(request, "desk/exports/list.html", {"form": _begun(request)})


@require_safe
def file(request: SignedInRequest) -> HttpResponse:
    """The file; or the page again, with what is missing or that there is nothing to export."""
    form = ExportForm(request.GET)
    if form.is_valid():
        asked = form.cleaned_data
        is_public = asked["audience"] == PUBLIC
        records = chosen(interviews=asked["chosen"], collection=asked["collection"], public=is_public)
        if records:
            kind = FORMATS[asked["format"]]
            name = f"oral-history-{len(records)}.{kind.ending}"
            headers = {"Content-Disposition": content_disposition_header(as_attachment=True, filename=name) or ""}
            return HttpResponse(kind.write(records), content_type=kind.media_type, headers=headers)
        form.add_error(
            None, "None of these interviews is accepted and may be told of there, so there is nothing to export."
        )
    return render(request, "desk/exports/list.html", {"form": form})


def _begun(request: SignedInRequest) -> ExportForm:
    return ExportForm(initial={"chosen": request.GET.get("chosen", ""), "audience": PUBLIC})
