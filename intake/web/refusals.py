"""A refusal from a service, shown to the person who asked."""

from collections.abc import Iterator
from contextlib import contextmanager

from django import forms
from django.contrib import messages
from django.http import HttpRequest

from intake.errors import Conflict, DoneAlready, Refused
from intake.web.forms import Merging


@contextmanager
def refusals_as_messages(request: HttpRequest) -> Iterator[None]:
    """Show the reasons on the next page."""
    try:
        yield
    except DoneAlready as done:
        messages.info(request, str(done))
    except Refused as refused:
        for reason in refused.reasons:
            messages.error(request, reason)


@contextmanager
def refusals_on(form: forms.BaseForm) -> Iterator[None]:
    """Show the reasons at the form, which keeps what was typed."""
    try:
        yield
    except Conflict as conflict:
        assert isinstance(form, Merging), "only such a form says what it began with"
        form.show(conflict)
    except Refused as refused:
        for reason in refused.reasons:
            form.add_error(None, reason)
