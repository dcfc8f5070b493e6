"""Pages that are for one person alone leave no trace in a browser that another person may use next."""

import re
from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse, HttpResponseNotAllowed, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.cache import add_never_cache_headers

GetResponse = Callable[[HttpRequest], HttpResponse]


def keep_nothing(get_response: GetResponse) -> GetResponse:
    """SECURITY: after a hand-over the back button shows no page of whoever had the device before."""

    def middleware(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        is_private = request.user.is_authenticated or "signing" in request.session
        if is_private and "Cache-Control" not in response:
            add_never_cache_headers(response)
        return response

    return middleware


def plain_refusals(get_response: GetResponse) -> GetResponse:
    """A method that an address does not take is told on a page of ours, with Allow as it was."""

    def middleware(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        if not isinstance(response, HttpResponseNotAllowed):
            return response
        page = render(request, "405.html", status=405)
        page["Allow"] = response["Allow"]
        return page

    return middleware


def tell_sent_forms(get_response: GetResponse) -> GetResponse:
    """Tell the browser by a short-lived cookie which form went through, so that it forgets what it kept of it."""

    def middleware(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        if request.method != "POST" or not isinstance(response, HttpResponseRedirect):
            return response
        key = request.POST.get("form_key", "")
        went_through = not response.url.startswith(reverse(settings.LOGIN_URL))
        if went_through and re.fullmatch("[0-9a-f]{32}", key):
            response.set_cookie("sent_form", key, max_age=60, samesite="Lax", secure=settings.SESSION_COOKIE_SECURE)
        return response

    return middleware


def forget(response: HttpResponse) -> HttpResponse:
    """Have the browser drop the pages it keeps of this site: somebody else has the device now."""
    response["Clear-Site-Data"] = '"cache", "storage"'
    return response
