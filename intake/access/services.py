"""The policy asked about one interview: what its rows say on a day, and who somebody is to it."""

from datetime import date

from django.contrib.auth.models import AnonymousUser
from django.utils import timezone

from intake.access.policy import Act, Answer, Audience, Situation, Terms, may, situation
from intake.accounts.models import User
from intake.errors import Refused
from intake.interviews.models import Interview, State
from intake.releases.restrictions import Restriction, restriction_of
from intake.releases.services import all_signed, missing_signatures
from intake.releases.withdrawals import pending


def terms_of(interview: Interview, *, on: date | None = None) -> Terms:
    """What access depends on, on a day; today if none is said."""
    return Terms(
        state=State(interview.state),
        is_signed=not missing_signatures(interview),
        is_contested=pending(interview) is not None,
        restriction=restriction_of(interview, on=on or timezone.localdate()),
    )


def terms_at_hand(interview: Interview, *, on: date) -> Terms:
    """The same from rows that were fetched with the interview: participants with their releases, and requests.

    For lists of many; nothing more is asked of the database.
    """
    signers = list(interview.participants.all())
    releases = [release for signer in signers for release in signer.releases.all() if release.withdrawn_at is None]
    return Terms(
        state=State(interview.state),
        is_signed=all_signed(signers),
        is_contested=pending(interview) is not None,
        restriction=Restriction.of(releases, on=on) if releases else None,
    )


def audience_of(user: User | AnonymousUser, interview: Interview) -> Audience:
    """Who a signed-in person is to an interview. A signer without an account comes by a private link."""
    if not isinstance(user, User) or not user.is_active:
        return Audience.PUBLIC
    if user.is_archivist:
        return Audience.STAFF
    if interview.owner_id == user.pk:
        return Audience.KEEPER
    is_party = interview.participants.filter(person__user=user).exists()
    return Audience.PARTY if is_party else Audience.PUBLIC


def asked(act: Act, interview: Interview, audience: Audience) -> Answer:
    """May this audience do this to the interview, now?"""
    return may(audience, act, terms_of(interview))


def refuse_unless(act: Act, interview: Interview, audience: Audience) -> Answer:
    """The answer, where it is yes. Raises Refused with the reason."""
    answer = asked(act, interview, audience)
    if not answer.allowed:
        raise Refused(answer.because)
    return answer


def who_may_hear(interview: Interview) -> str:
    """How it stands with listening, in a sentence. What some chose opens nothing while others have not signed."""
    terms = terms_of(interview)
    stands = situation(terms)
    if stands in {Situation.WITHDRAWN, Situation.CONTESTED, Situation.TAKEN_DOWN}:
        return stands.value
    if terms.restriction is None or not terms.is_signed:
        return "Not everybody has signed yet: only the library's staff and whoever looks after the interview hear it."
    return terms.restriction.sentence()
