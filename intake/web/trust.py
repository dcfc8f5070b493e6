"""How a phone on the local network comes to trust this computer's own certificate authority."""

import base64
import hashlib

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe


def fingerprint_of(authority: bytes) -> str:
    """SHA-256 of a certificate (DER) in pairs of digits, as phones and browsers show it."""
    return hashlib.sha256(authority).digest().hex(":").upper()


@login_not_required
@require_safe
def trust(request: HttpRequest) -> HttpResponse:
    return render(request, "trust.html", {"fingerprint": fingerprint_of(_authority())})


@login_not_required
@require_safe
def certificate(request: HttpRequest) -> HttpResponse:
    """The authority's certificate, which is no secret; its key never leaves the computer."""
    answer = HttpResponse(_authority(), content_type="application/x-x509-ca-cert")
    answer["Content-Disposition"] = 'attachment; filename="oral-history-intake.crt"'
    return answer


def _authority() -> bytes:
    """404 for a site that does not vouch for itself."""
    if not settings.LAN_AUTHORITY:
        raise Http404
    return base64.b64decode(settings.LAN_AUTHORITY)
