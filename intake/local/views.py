"""The demo's page of sent mail, which a newcomer follows without an account.

SECURITY: it shows every link that the site has sent, so whoever opens it can take every invitation and every new
password. `intake.urls` knows it in the demo alone, whose people are invented and whose mail never leaves the computer.
"""

from csp.decorators import csp
from django.contrib.auth.decorators import login_not_required
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_safe

from intake.local import sent_mail
from intake.local.sent_mail import SentMail
from intake.web.alone import MAIL_ALONE

PER_PAGE = 20


@login_not_required
@require_safe
def mail(request: HttpRequest) -> HttpResponse:
    page = Paginator(sent_mail.files(), PER_PAGE).get_page(request.GET.get("page"))
    mails = [found for path in page for found in reversed(sent_mail.mails_in(path))]
    return render(request, "local/mail.html", {"page": page, "mails": mails})


@login_not_required
@require_safe
@csp(MAIL_ALONE)  # type: ignore[arg-type]  # the decorator's type knows no view with arguments
def mail_html(request: HttpRequest, name: str, number: int) -> HttpResponse:
    """The mail as a mail program draws it."""
    return HttpResponse(_mail(name, number).html)


@login_not_required
@require_safe
def attachment(request: HttpRequest, name: str, number: int, place: int) -> HttpResponse:
    attachments = _mail(name, number).attachments
    if place >= len(attachments):
        raise Http404("no such attachment")
    file = attachments[place]
    response = HttpResponse(file.content, content_type=file.media_type)
    response["Content-Disposition"] = content_disposition_header(as_attachment=True, filename=file.name) or ""
    return response


def _mail(name: str, number: int) -> SentMail:
    found = sent_mail.find(name, number)
    if found is None:
        raise Http404("no such mail")
    return found
