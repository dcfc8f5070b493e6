"""A form that makes something is answered once: a double click, or Back and the same again, makes no second one."""

import hashlib
import json
from collections.abc import Callable

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect

from intake.once import services
from intake.web.requests import SignedInRequest


def once(
    request: SignedInRequest, do: Callable[[], HttpResponse], *, otherwise: str = "home", told: str = ""
) -> HttpResponse:
    """Answer with `do`; the same form sent again unchanged leads where it led the first time.

    Where the first answer was a page of its own (a code shown once), the second leads to the route `otherwise`.
    """
    if not request.POST.get("form_key"):
        return do()
    answers: list[HttpResponse] = []

    def first_time() -> str:
        answers.append(do())
        return answers[0].headers.get("Location", "")

    led_to = services.once(_digest(request), first_time)
    if answers:
        return answers[0]
    if told:
        messages.info(request, told)
    return redirect(led_to or otherwise)


def _digest(request: SignedInRequest) -> str:
    """Who sent what, where. Something typed differently is another form, even on the same page come back to."""
    typed = {name: values for name, values in request.POST.lists() if name != "csrfmiddlewaretoken"}
    said = json.dumps([request.user.pk, request.path, sorted(typed.items())])
    return hashlib.sha256(said.encode()).hexdigest()
