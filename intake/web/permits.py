"""The policy asked by a page or a stream about the person whose request it is."""

from django.contrib.auth.models import AnonymousUser
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest

from intake.access.policy import Act
from intake.access.services import asked, audience_of
from intake.accounts.models import User
from intake.interviews.models import Interview


def permit(request: HttpRequest, act: Act, interview: Interview) -> None:
    """SECURITY: asked before every stream and every download. Answers 403 with the reason."""
    if why_not := why_not_permitted(request.user, act, interview):
        raise PermissionDenied(why_not)


def why_not_permitted(user: User | AnonymousUser, act: Act, interview: Interview) -> str:
    """Why this person may not do this to the interview now; empty if they may."""
    return asked(act, interview, audience_of(user, interview)).because
