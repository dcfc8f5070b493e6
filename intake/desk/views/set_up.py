"""The set-up of the library, step by step. Each step is saved by itself and can be left and come back to."""

from django.conf import settings
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST, require_safe

from intake.desk import set_up
from intake.desk.set_up_forms import (
    CertificateForm,
    LibraryForm,
    LogoForm,
    MailForm,
    NumbersForm,
    library_values,
    mail_values,
)
from intake.library import certificates
from intake.library import services as libraries
from intake.library.logo import keep_logo
from intake.library.models import SigningCertificate, Step
from intake.library.numbering import faults_of
from intake.mail import trial
from intake.register.services import next_number
from intake.web.refusals import refusals_as_messages, refusals_on
from intake.web.requests import SignedInRequest


@require_safe
def overview(request: SignedInRequest) -> HttpResponse:
    context = {"steps": set_up.steps_for(request.user), "time_zone": settings.TIME_ZONE}
    return render(request, "desk/set_up/overview.html", context)


def library(request: SignedInRequest) -> HttpResponse:
    form = LibraryForm(request.POST or None, initial=library_values(libraries.current()))
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            libraries.describe(**form.cleaned_data, actor=request.user)
            messages.success(request, "Pages, messages and papers say so from now on.")
            return redirect("desk:set-up")
    return render(request, "desk/set_up/library.html", {"form": form})


def logo(request: SignedInRequest) -> HttpResponse:
    form = LogoForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            libraries.show_logo(keep_logo(form.cleaned_data["logo"].read()), actor=request.user)
            messages.success(request, "The logo stands at the head of every page and paper from now on.")
            return redirect("desk:set-up-logo")
    return render(request, "desk/set_up/logo.html", {"form": form, "library": libraries.current()})


@require_POST
def no_logo(request: SignedInRequest) -> HttpResponse:
    with refusals_as_messages(request):
        libraries.show_logo(None, actor=request.user)
    return redirect("desk:set-up")


def numbers(request: SignedInRequest) -> HttpResponse:
    library = libraries.current()
    stands = {"pattern": library.accession_pattern, "copy_names": library.copy_name_pattern}
    form = NumbersForm(request.POST or None, initial=stands)
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            libraries.number_by(**form.cleaned_data, actor=request.user)
            messages.success(request, "The next accession is numbered like this.")
            return redirect("desk:set-up")
    return render(request, "desk/set_up/numbers.html", {"form": form, **_example(form["pattern"].value() or "")})


@require_safe
def number_example(request: SignedInRequest) -> HttpResponse:
    return render(request, "desk/set_up/_number_example.html", _example(request.GET.get("pattern", "")))


def _example(pattern: str) -> dict[str, object]:
    faults = faults_of(pattern.strip())
    return {"faults": faults, "example": "" if faults else next_number(pattern.strip())}


def mail(request: SignedInRequest) -> HttpResponse:
    library = libraries.current()
    form = MailForm(request.POST or None, initial=mail_values(library))
    if request.method == "POST" and form.is_valid() and not settings.EMAIL_BY_ENVIRONMENT:
        given = form.cleaned_data
        with refusals_on(form):
            libraries.send_mail_by(**{**given, "password": given["password"] or None}, actor=request.user)
            messages.success(request, "Saved. Send yourself a test message to see whether it works.")
            return redirect("desk:set-up-mail")
    context = {
        "form": form,
        "by_environment": settings.EMAIL_BY_ENVIRONMENT,
        "folder": "" if libraries.mail_leaves() else settings.EMAIL_FILE_PATH,
        "sender": libraries.sender(),
        "has_password": bool(library.mail_password),
    }
    return render(request, "desk/set_up/mail.html", context)


@require_POST
def mail_test(request: SignedInRequest) -> HttpResponse:
    with refusals_as_messages(request):
        messages.success(request, trial.send_to(request.user))
    return redirect("desk:set-up-mail")


@require_POST
def wordings_are_right(request: SignedInRequest) -> HttpResponse:
    with refusals_as_messages(request):
        libraries.settle(Step.WORDINGS, actor=request.user)
    return redirect("desk:set-up")


def certificate(request: SignedInRequest) -> HttpResponse:
    """The certificate with which papers are signed: the site's own, or one that the library brings."""
    form = CertificateForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            certificates.bring(
                form.cleaned_data["bundle"].read(), password=form.cleaned_data["password"], actor=request.user
            )
            messages.success(request, "Papers made from now on are signed with this certificate.")
            return redirect("desk:set-up-certificate")
    known = SigningCertificate.objects.select_related("brought_by")
    context = {"form": form, "certificates": known, "stamps": settings.PAPER_STAMP_URL}
    return render(request, "desk/set_up/certificate.html", context)
