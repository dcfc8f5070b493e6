"""The front door and the machine doors."""

from django.contrib.auth.decorators import login_not_required
from django.db import connection
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_safe

from intake.web.requests import SignedInRequest


@require_safe
def home(request: SignedInRequest) -> HttpResponse:
    """Each to their own site."""
    return redirect("desk:queue" if request.user.is_archivist else "portal:home")


@login_not_required
@require_safe
def health(request: HttpRequest) -> JsonResponse:
    """For a load balancer or the compose file: the site answers and reaches its database."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")
    return JsonResponse({"status": "ok"})
