"""Pages that are for one person alone leave no trace in a browser that another person may use next."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
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


def forget(response: HttpResponse) -> HttpResponse:
    """Have the browser drop the pages it keeps of this site: somebody else has the device now."""
    response["Clear-Site-Data"] = '"cache"'
    return response
