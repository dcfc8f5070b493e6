"""Recording kits: on the shelf, out, and back. A loan's code is shown once, when it is made."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from intake.desk import queries
from intake.desk.forms import KitForm, LendForm, TakeBackForm
from intake.kits import services
from intake.kits.models import Kit, Loan
from intake.register import clearing
from intake.web.once import once
from intake.web.refusals import refusals_as_messages, refusals_on
from intake.web.requests import SignedInRequest

LENT_ALREADY = "This kit has been lent already, and its code was shown once. Make a new code if you did not see it."


def kits(request: SignedInRequest) -> HttpResponse:
    form = KitForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            return once(request, lambda: _add(request, form))
    return render(request, "desk/kits/list.html", {"form": form, "kits": queries.kits_on_shelf_and_out()})


def lend(request: SignedInRequest, pk: int) -> HttpResponse:
    kit = get_object_or_404(Kit, pk=pk)
    form = LendForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            return once(request, lambda: _lend(request, kit, form), otherwise="desk:kits", told=LENT_ALREADY)
    return render(request, "desk/kits/lend.html", {"form": form, "kit": kit})


def _add(request: SignedInRequest, form: KitForm) -> HttpResponse:
    services.add_kit(actor=request.user, **form.cleaned_data)
    return redirect("desk:kits")


def _lend(request: SignedInRequest, kit: Kit, form: LendForm) -> HttpResponse:
    loan, code = services.lend(kit.pk, actor=request.user, **form.cleaned_data)
    return render(request, "desk/kits/code.html", {"loan": loan, "code": code})


@require_POST
def new_code(request: SignedInRequest, pk: int) -> HttpResponse:
    loan = get_object_or_404(Loan, pk=pk)
    with refusals_as_messages(request):
        code = services.issue_code(pk, actor=request.user)
        return render(request, "desk/kits/code.html", {"loan": loan, "code": code})
    return redirect("desk:kits")


def take_back(request: SignedInRequest, pk: int) -> HttpResponse:
    loan = get_object_or_404(Loan.objects.select_related("kit", "borrower"), pk=pk)
    form = TakeBackForm(request.POST or None)
    recordings = clearing.of_loan(loan)
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            services.take_back(pk, told_of_card=recordings.in_words, actor=request.user, **form.cleaned_data)
            messages.success(request, f"{loan.kit} is back.")
            return redirect("desk:kits")
    return render(request, "desk/kits/take_back.html", {"form": form, "loan": loan, "clearing": recordings})
