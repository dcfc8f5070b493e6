"""Messages: what was sent to whom, what did not arrive, and sending it again."""

from uuid import UUID

from csp.decorators import csp
from django.contrib import messages as notices
from django.http import Http404, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from intake.access.querysets import visible
from intake.audit.services import story_of
from intake.desk import queries
from intake.desk.forms import AddressForm, BounceForm, MessagesForm
from intake.desk.set_up import mail_folder
from intake.mail import services
from intake.mail.emails import html_of
from intake.mail.models import Message
from intake.web.alone import MAIL_ALONE
from intake.web.ranges import serve
from intake.web.refusals import refusals_as_messages, refusals_on
from intake.web.requests import SignedInRequest

IN_LINE = "It is in line to be sent to {}."


@require_safe
def messages(request: SignedInRequest) -> HttpResponse:
    form = MessagesForm(request.GET)
    kept = request.GET.copy()
    kept.pop("page", None)
    context = {
        "form": form,
        "page": queries.messages_page(form.cleaned_data if form.is_valid() else {}, request.GET.get("page")),
        "querystring": kept.urlencode(),
        "mail_folder": mail_folder(),
    }
    return render(request, "desk/messages/list.html", context)


@require_safe
def detail(request: SignedInRequest, pk: int) -> HttpResponse:
    message = _message(request, pk)
    context = {
        "message": message,
        "attachments": message.attachments.all(),
        "events": story_of(message),
        "mail_folder": mail_folder(),
    }
    return render(request, "desk/messages/detail.html", context)


@require_safe
@csp(MAIL_ALONE)  # type: ignore[arg-type]  # the decorator's type knows no view with arguments
def preview(request: SignedInRequest, pk: int) -> HttpResponse:
    """The message as a mail program draws it. One that holds a link for one person is shown to nobody else."""
    message = _message(request, pk)
    if message.holds_secret:
        raise Http404("its words are for one person")
    return HttpResponse(html_of(subject=message.subject, text=message.text))


@require_safe
def attachment(request: SignedInRequest, pk: int, file: UUID) -> HttpResponseBase:
    return serve(request, get_object_or_404(_message(request, pk).attachments, pk=file), download=True)


@require_POST
def send_again(request: SignedInRequest, pk: int) -> HttpResponse:
    message = _message(request, pk)
    with refusals_as_messages(request):
        services.send_again(message.pk, actor=request.user)
        notices.success(request, IN_LINE.format(message.to))
    return redirect("desk:message-detail", pk=pk)


def came_back(request: SignedInRequest, pk: int) -> HttpResponse:
    message = _message(request, pk)
    form = BounceForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            services.note_bounce(pk, told=form.cleaned_data["told"], actor=request.user)
            return redirect("desk:message-detail", pk=pk)
    return render(request, "desk/messages/came_back.html", {"form": form, "message": message})


def correct_address(request: SignedInRequest, pk: int) -> HttpResponse:
    message = _message(request, pk)
    form = AddressForm(request.POST or None, initial={"to": message.to})
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            corrected = services.correct_address(pk, to=form.cleaned_data["to"], actor=request.user)
            notices.success(request, IN_LINE.format(corrected.to))
            return redirect("desk:message-detail", pk=pk)
    return render(request, "desk/messages/address.html", {"form": form, "message": message})


@require_POST
def settle(request: SignedInRequest, pk: int) -> HttpResponse:
    message = _message(request, pk)
    with refusals_as_messages(request):
        services.settle(message.pk, actor=request.user)
    return redirect("desk:message-detail", pk=pk)


def _message(request: SignedInRequest, pk: int) -> Message:
    return get_object_or_404(visible(Message, request.user), pk=pk)
