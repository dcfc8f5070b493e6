"""Private links: one person, one purpose, a time. Whoever holds one sees that one thing and nothing else."""

from datetime import datetime, timedelta

from django.db import transaction
from django.utils import timezone

from intake.accounts.models import User
from intake.audit.actions import Action
from intake.audit.services import record
from intake.codes import digest_of, link_token
from intake.errors import Refused
from intake.interviews.models import Participant
from intake.releases.models import PrivateLink, Purpose

LASTS = timedelta(days=30)
ENDED = "This link does not work any more. Ask whoever sent it for another."


@transaction.atomic
def make_link(
    participant_id: int, *, purpose: str, moment: str = "", actor: User, expires_at: datetime | None = None
) -> tuple[PrivateLink, str]:
    """A new link and its secret, which is told this once. An earlier link of the same kind ends."""
    participant = Participant.objects.select_related("interview", "person").get(pk=participant_id)
    now = timezone.now()
    participant.private_links.filter(purpose=purpose, moment=moment, ended_at=None).update(ended_at=now)
    token = link_token()
    link = PrivateLink.objects.create(
        participant=participant,
        purpose=purpose,
        moment=moment,
        token_digest=digest_of(token),
        made_by=actor,
        expires_at=expires_at or now + LASTS,
    )
    record(
        actor=actor,
        action=Action.LINK_SENT,
        subject=participant,
        thread=participant.interview,
        names={"to": participant.person.name},
        purpose=Purpose(purpose).value,
    )
    return link, token


def live_link(token: str) -> PrivateLink:
    """The link with this secret, while it works. Raises Refused."""
    link = (
        PrivateLink.objects.select_related("participant__person", "participant__interview__collection", "made_by")
        .filter(token_digest=digest_of(token), ended_at=None, expires_at__gt=timezone.now())
        .first()
    )
    if link is None:
        raise Refused(ENDED)
    return link


def link_opened(pk: int | None, purpose: str) -> PrivateLink | None:
    """The link of this number that a browser was switched to, while it works."""
    links = PrivateLink.objects.select_related("participant__person", "participant__interview__collection")
    return links.filter(pk=pk or 0, purpose=purpose, ended_at=None, expires_at__gt=timezone.now()).first()


@transaction.atomic
def note_opened(link: PrivateLink) -> None:
    record(
        actor=None,
        action=Action.LINK_OPENED,
        subject=link.participant,
        thread=link.participant.interview,
        names={"to": link.participant.person.name},
        purpose=link.purpose,
    )


def link_of(participant: Participant, purpose: str, moment: str = "") -> PrivateLink | None:
    """The link that works for this person and purpose now. Uses prefetched links where there are any."""
    now = timezone.now()
    return next(
        (
            link
            for link in participant.private_links.all()
            if (link.purpose, link.moment, link.ended_at) == (purpose, moment, None) and link.expires_at > now
        ),
        None,
    )


@transaction.atomic
def end_link(link: PrivateLink, *, actor: User | None) -> None:
    """The link stops working now."""
    if PrivateLink.objects.filter(pk=link.pk, ended_at=None).update(ended_at=timezone.now()):
        record(
            actor=actor,
            action=Action.LINK_ENDED,
            subject=link.participant,
            thread=link.participant.interview,
            purpose=link.purpose,
        )
