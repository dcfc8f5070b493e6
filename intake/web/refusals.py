"""A refusal from a service, shown to the person who asked."""

from collections.abc import Iterator
from contextlib import contextmanager

from django import forms
from django.contrib import messages
from django.http import HttpRequest

from intake.errors import Refused


@contextmanager
def refusals_as_messages(request: HttpRequest) -> Iterator[None]:
    """Show the reasons on the next page."""
    try:
        yield
    except Refused as refused:
        for reason in refused.reasons:
            messages.error(request, reason)


@contextmanager
def refusals_on(form: forms.BaseForm) -> Iterator[None]:
    """Show the reasons at the form, which keeps what was typed."""
    try:
        yield
    except Refused as refused:
        for reason in refused.reasons:
            form.add_error(None, reason)
