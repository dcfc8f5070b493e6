"""The front door and the machine doors."""

from uuid import UUID

from django.contrib.auth.decorators import login_not_required
from django.core.exceptions import RequestDataTooBig
from django.db import connection
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase, JsonResponse
from django.shortcuts import redirect
from django.template.loader import render_to_string
from django.views.decorators.http import require_safe

from intake.library import services as libraries
from intake.web import ranges
from intake.web.requests import SignedInRequest


@require_safe
def home(request: SignedInRequest) -> HttpResponse:
    """Each to their own site."""
    return redirect("desk:queue" if request.user.is_archivist else "portal:home")


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    """A request that no page of ours sends, in plain words. It may be answered before anybody is known."""
    too_big = isinstance(exception, RequestDataTooBig)
    return HttpResponse(render_to_string("400.html", {"too_big": too_big}), status=413 if too_big else 400)


@login_not_required
@require_safe
def health(request: HttpRequest) -> JsonResponse:
    """For a load balancer or the compose file: the site answers and reaches its database."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")
    return JsonResponse({"status": "ok"})


@login_not_required
@require_safe
def logo(request: HttpRequest, pk: UUID) -> HttpResponseBase:
    """The library's logo, for everybody. An address shows one picture for ever, so browsers keep it."""
    picture = libraries.current().logo
    if picture is None or picture.pk != pk:
        raise Http404
    answer = ranges.serve(request, picture)
    answer["Cache-Control"] = "public, max-age=31536000, immutable"
    return answer
