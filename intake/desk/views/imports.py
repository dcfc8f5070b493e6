"""Imports of back-logs: how far each came, and what became of each row."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from intake.backlog.models import BacklogImport
from intake.desk import queries
from intake.web.requests import SignedInRequest


@require_safe
def imports(request: SignedInRequest) -> HttpResponse:
    return render(request, "desk/imports/list.html", {"imports": queries.imports()})


@require_safe
def detail(request: SignedInRequest, pk: int) -> HttpResponse:
    get_object_or_404(BacklogImport, pk=pk)
    context = {"shown": queries.imports().get(pk=pk), "page": queries.import_rows(pk, request.GET.get("page"))}
    return render(request, "desk/imports/detail.html", context)
