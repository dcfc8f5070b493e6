"""A request as views behind the sign-in get it."""

from django.http import HttpRequest

from intake.accounts.models import User


class SignedInRequest(HttpRequest):
    """LoginRequiredMiddleware has let it pass, so its user is one of ours. For type checks only: nothing makes one."""

    user: User
