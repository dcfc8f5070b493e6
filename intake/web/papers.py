"""A paper of our own making that is not kept, as an answer."""

from django.http import HttpResponse
from django.utils.http import content_disposition_header


def pdf_answer(pdf: bytes, name: str) -> HttpResponse:
    response = HttpResponse(pdf, content_type="application/pdf")
    response["Content-Disposition"] = content_disposition_header(as_attachment=False, filename=name) or ""
    response["Cache-Control"] = "private, no-store"
    return response
