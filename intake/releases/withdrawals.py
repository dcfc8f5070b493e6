"""The wish to withdraw: a release before acceptance, at once; an accepted interview by a request that staff decide."""

from django.db import transaction
from django.utils import timezone

from intake.accounts.models import User
from intake.audit.actions import Action
from intake.audit.services import record
from intake.errors import Refused, refuse_if
from intake.interviews import lifecycle
from intake.interviews.models import Interview
from intake.releases.models import Release, WithdrawalRequest
from intake.releases.services import SIGNABLE


@transaction.atomic
def withdraw_release(release_id: int, *, reason: str, actor: User) -> Release:
    """Before acceptance a signature is taken back at once; what was signed is kept and does not stand any more."""
    release = Release.objects.select_related("participant__interview", "participant__person").get(pk=release_id)
    interview = lifecycle.locked(release.participant.interview_id)
    release.refresh_from_db(fields=["withdrawn_at"])
    if not reason.strip():
        raise Refused("Say in a few words why the release is withdrawn.")
    refuse_if(_not_theirs(release, actor))
    if release.withdrawn_at:
        raise Refused("This release was withdrawn already.")
    if interview.state not in SIGNABLE:
        raise Refused(
            f"The interview is {interview.get_state_display().lower()}: a release is not taken back alone any more. "
            "Ask for the interview to be withdrawn; the library's staff decide, and until then nobody hears it."
        )
    release.withdrawn_at = timezone.now()
    release.save(update_fields=["withdrawn_at"])
    record(
        actor=actor,
        action=Action.RELEASE_WITHDRAWN,
        subject=release,
        thread=interview,
        names={"signer": release.signer_name, "reason": reason.strip()},
    )
    return release


def ask(interview: Interview, *, wished_by: str, reason: str, actor: User | None) -> WithdrawalRequest:
    """Note the wish. The caller holds the interview's lock."""
    if not interview.is_taken_in:
        raise Refused("Only an accepted interview is withdrawn by a request. Before that it is withdrawn at once.")
    if not wished_by.strip() or not reason.strip():
        raise Refused("Say whose wish it is, and why.")
    if pending(interview):
        raise Refused("Somebody has asked for it already. The library's staff are about to decide.")
    request = WithdrawalRequest.objects.create(
        interview=interview, wished_by=wished_by.strip(), reason=reason.strip(), asked_by=actor
    )
    record(
        actor=actor,
        action=Action.WITHDRAWAL_ASKED,
        subject=request,
        thread=interview,
        names={"wished by": request.wished_by, "reason": request.reason},
    )
    return request


def decide(request: WithdrawalRequest, *, is_granted: bool, reason: str, actor: User) -> None:
    """Keep the decision and its reason. The caller holds the interview's lock."""
    if not reason.strip():
        raise Refused("Say why it is decided so. Whoever asked reads it.")
    request.is_granted, request.decided_because = is_granted, reason.strip()
    request.decided_by, request.decided_at = actor, timezone.now()
    request.save(update_fields=["is_granted", "decided_because", "decided_by", "decided_at"])


def pending(interview: Interview) -> WithdrawalRequest | None:
    """The request that waits for a decision. Uses prefetched requests where there are any."""
    return next((request for request in interview.withdrawal_requests.all() if request.decided_at is None), None)


def _not_theirs(release: Release, actor: User) -> list[str]:
    person = release.participant.person
    if actor.is_archivist or person.user_id == actor.pk:
        return []
    return ["Only the signer withdraws a release, or the library's staff for them."]
