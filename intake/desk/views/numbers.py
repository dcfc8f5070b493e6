"""The numbers of a year: a page, a table for other programs, and a paper for the annual report."""

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from intake.desk.charts import bars
from intake.desk.numbers import as_csv, numbers_of, years
from intake.outputs.paper.numbers import numbers_pdf
from intake.web.papers import pdf_answer
from intake.web.requests import SignedInRequest


@require_safe
def numbers(request: SignedInRequest) -> HttpResponse:
    told = numbers_of(_year(request))
    tables = [(table, bars(table)) for table in told.tables]
    return render(request, "desk/numbers/list.html", {"numbers": told, "tables": tables, "years": years()})


@require_safe
def csv(request: SignedInRequest) -> HttpResponse:
    told = numbers_of(_year(request))
    name = f'attachment; filename="oral-history-{told.year}.csv"'
    return HttpResponse(as_csv(told), content_type="text/csv; charset=utf-8", headers={"Content-Disposition": name})


@require_safe
def pdf(request: SignedInRequest) -> HttpResponse:
    told = numbers_of(_year(request))
    return pdf_answer(numbers_pdf(told), f"oral-history-{told.year}.pdf")


def _year(request: SignedInRequest) -> int:
    """The year asked for, if there is something to tell of it; the newest else."""
    asked, known = request.GET.get("year", ""), years()
    return int(asked) if asked.isdecimal() and len(asked) == 4 and int(asked) in known else known[0]
