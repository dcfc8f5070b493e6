"""Preservation packages, for the library's own store or for another one. Whoever takes one out stands in its record."""

from collections.abc import Callable, Iterable

from django.http import HttpResponseBase, StreamingHttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_POST

from intake.access.querysets import visible
from intake.interviews.models import Collection, Interview
from intake.outputs.names import safe_name
from intake.outputs.packages.bags import Bag
from intake.outputs.packages.contents import package_of, packages_of
from intake.outputs.packages.giving import archive
from intake.web.refusals import refusals_as_messages
from intake.web.requests import SignedInRequest


@require_POST
def of_interview(request: SignedInRequest, pk: int) -> HttpResponseBase:
    interview = get_object_or_404(visible(Interview, request.user).select_related("collection"), pk=pk)
    with refusals_as_messages(request):
        bag = package_of(interview, actor=request.user)
        return _download(request, [lambda: bag], bag.name)
    return redirect("desk:interview-detail", pk=pk)


@require_POST
def of_collection(request: SignedInRequest, pk: int) -> HttpResponseBase:
    collection = get_object_or_404(Collection, pk=pk)
    with refusals_as_messages(request):
        makers = packages_of(collection, actor=request.user)
        return _download(request, makers, safe_name(collection.name, otherwise="collection"))
    return redirect("desk:collections")


def _download(request: SignedInRequest, makers: Iterable[Callable[[], Bag]], name: str) -> HttpResponseBase:
    """Written while it is read. Where a file is not as it was stored it breaks off: browsers say that it failed."""
    response = StreamingHttpResponse(archive(makers, actor=request.user), content_type="application/zip")
    response["Content-Disposition"] = content_disposition_header(as_attachment=True, filename=f"{name}.zip") or ""
    response["Cache-Control"] = "private, no-store"
    return response
