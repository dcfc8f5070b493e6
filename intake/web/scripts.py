"""Answers to a page's own scripts: a no is one sentence in plain text, which the script shows."""

from collections.abc import Callable

from django.http import HttpResponse
from django.shortcuts import redirect

from intake.errors import DoneAlready, Refused
from intake.web.refusals import refusals_as_messages
from intake.web.requests import SignedInRequest

UNPROCESSABLE = 422
# Sent by scripts alone (static/js/requests.js): for whom the page was drawn.
ACCOUNT = "X-Account"


def sentence(told: str, status: int = UNPROCESSABLE) -> HttpResponse:
    return HttpResponse(told + "\n", status=status, content_type="text/plain; charset=utf-8")


def answer_script(request: SignedInRequest, do: Callable[[], HttpResponse]) -> HttpResponse:
    """The answer, or why not.

    SECURITY: what one person's page sends is not done in the name of another who has signed in since.
    """
    if request.headers.get(ACCOUNT, str(request.user.pk)) != str(request.user.pk):
        refused = sentence("Somebody else is signed in now, so nothing was kept.", status=412)
        refused["X-Account-Differs"] = "yes"
        return refused
    try:
        return do()
    except DoneAlready:
        return HttpResponse(status=204)
    except Refused as refused:
        return sentence(" ".join(refused.reasons))


def keep(request: SignedInRequest, do: Callable[[], object], *, back: str) -> HttpResponse:
    """For a form that a script sends as soon as something is changed, and a button sends where there is no script."""
    if ACCOUNT in request.headers:
        return answer_script(request, lambda: _done(do))
    with refusals_as_messages(request):
        do()
    return redirect(back)


def _done(do: Callable[[], object]) -> HttpResponse:
    do()
    return HttpResponse(status=204)
