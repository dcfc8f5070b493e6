"""What a private link has opened in a browser: one person's one interview, as the policy allows it at this moment."""

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest
from django.shortcuts import get_object_or_404

from intake.access.policy import Act, Audience
from intake.access.services import asked
from intake.interviews.models import Part
from intake.outputs.issuing import own_papers
from intake.outputs.models import Output
from intake.releases.links import link_opened
from intake.releases.models import PrivateLink


def opened(request: HttpRequest, purpose: str) -> PrivateLink | None:
    """The link that this browser was switched to; none for whoever has signed in since then."""
    return None if request.user.is_authenticated else link_opened(request.session.get(purpose), purpose)


def permitted_part(link: PrivateLink | None, pk: int, act: Act) -> Part:
    """SECURITY: a part of the one interview that the link is for, if its signer may do this now; else 404 or 403."""
    if link is None:
        raise Http404("no link was opened in this browser")
    part = get_object_or_404(Part.objects.select_related("interview__collection"), pk=pk)
    if part.interview_id != link.participant.interview_id or part.position is None:
        raise Http404("not a part of the interview that the link is for")
    _refuse_unless(act, link)
    return part


def permitted_paper(link: PrivateLink | None, pk: int) -> Output:
    """SECURITY: a paper that is for the one person whom the link is for; else 404 or 403."""
    if link is None:
        raise Http404("no link was opened in this browser")
    paper = next((row.newest for row in own_papers(link.participant) if row.newest.pk == pk), None)
    if paper is None:
        raise Http404("not a paper of whoever the link is for")
    _refuse_unless(Act.SEE, link)
    return paper


def _refuse_unless(act: Act, link: PrivateLink) -> None:
    answer = asked(act, link.participant.interview, Audience.PARTY)
    if not answer.allowed:
        raise PermissionDenied(answer.because)
