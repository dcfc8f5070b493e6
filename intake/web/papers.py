"""A paper of our own making, as an answer: as PDF, or as a page that says the same."""

from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.utils.http import content_disposition_header

from intake.outputs.models import Output, OutputKind
from intake.outputs.paper import arrival, quality, receipt, words
from intake.outputs.papers import paper_told
from intake.releases.models import Moment
from intake.web.ranges import serve

PAGES = {
    OutputKind.RELEASE_COPY: "papers/release-copy.html",
    OutputKind.AGREEMENT_COPY: "papers/agreement-copy.html",
    OutputKind.ARRIVAL_RECEIPT: "papers/arrival-receipt.html",
    OutputKind.RECEIPT: "papers/receipt.html",
    OutputKind.LETTER: "papers/letter.html",
    OutputKind.QUALITY_REPORT: "papers/quality-report.html",
}
# The sentences that every receipt of a kind says, from the module that prints them.
SENTENCES = {OutputKind.ARRIVAL_RECEIPT: arrival, OutputKind.RECEIPT: receipt, OutputKind.QUALITY_REPORT: quality}


def paper_page_of(moment: str) -> str:
    """The route of the page on which a form of this moment is printed and handed in."""
    return "portal:agreement-paper" if moment == Moment.AGREEMENT else "portal:paper"


def pdf_answer(pdf: bytes, name: str) -> HttpResponse:
    response = HttpResponse(pdf, content_type="application/pdf")
    response["Content-Disposition"] = content_disposition_header(as_attachment=False, filename=name) or ""
    response["Cache-Control"] = "private, no-store"
    return response


def paper_answer(request: HttpRequest, paper: Output, *, download: bool = False) -> HttpResponseBase:
    """A paper as its PDF; or, with `?as=page`, as a page that says the same, which can show every name and letter."""
    if request.GET.get("as") == "page":
        told = paper_told(paper)
        context = {
            "paper": told,
            "sha256": paper.file.sha256,
            "told": SENTENCES.get(OutputKind(paper.kind)),
            "shared": words,
        }
        return render(request, PAGES[OutputKind(paper.kind)], context)
    return serve(request, paper.file, download=download)
