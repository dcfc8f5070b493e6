"""Messages that carry a private link. Whoever asks for one never sees the link: it is for the person it is sent to."""

from datetime import date, datetime, time, timedelta

from django.db import transaction
from django.utils import timezone

from intake.access.policy import Act, Audience
from intake.access.services import refuse_unless
from intake.accounts.models import User
from intake.audit.actions import Action
from intake.audit.services import record
from intake.errors import Refused
from intake.interviews.models import Participant
from intake.jobs.models import Kind
from intake.jobs.services import enqueue
from intake.mail import services as mail
from intake.outputs.services import site_url
from intake.people.services import address_of
from intake.releases.links import make_link
from intake.releases.models import Moment, PrivateLink, Purpose
from intake.releases.services import refuse_unless_signable
from intake.releases.turns import begin
from intake.releases.wordings import wording_for


@transaction.atomic
def send_link_to_sign(participant_id: int, *, moment: str, actor: User) -> PrivateLink:
    """Send somebody the link with which they read and sign on a device of their own. An earlier one ends."""
    participant = Participant.objects.select_related("interview", "person__user").get(pk=participant_id)
    refuse_unless_signable(participant, moment)
    wording_for(moment, participant.role, participant.interview.language)
    return _send(participant, purpose=Purpose.SIGN, moment=Moment(moment), template="link_to_sign", actor=actor)


@transaction.atomic
def offer_turn(participant_id: int, *, until: date, actor: User) -> PrivateLink:
    """Send a narrator the link with which they hear the recording before it is accepted."""
    participant = Participant.objects.select_related("interview", "person__user").get(pk=participant_id)
    refuse_unless(Act.HEAR, participant.interview, Audience.PARTY)
    begin(participant_id, until=until, actor=actor)
    end = timezone.make_aware(datetime.combine(until + timedelta(days=1), time.min))
    return _send(participant, purpose=Purpose.HEAR, moment="", template="link_to_hear", actor=actor, expires_at=end)


@transaction.atomic
def send_link_to_copy(participant_id: int, *, actor: User) -> PrivateLink:
    """After acceptance, send a signer the link with which they take their copy of the recording."""
    participant = Participant.objects.select_related("interview", "person__user").get(pk=participant_id)
    if not actor.is_archivist:
        raise Refused("Only the library's staff hand copies out.")
    refuse_unless(Act.TAKE, participant.interview, Audience.PARTY)
    enqueue(Kind.MAKE_ACCESS_COPIES, participant.interview_id)
    return _send(participant, purpose=Purpose.COPY, moment="", template="link_to_copy", actor=actor)


@transaction.atomic
def note_copy_given(participant_id: int, *, on: date, carrier: str, actor: User) -> None:
    """Write down that a signer was given a copy on something to hold in the hand."""
    participant = Participant.objects.select_related("interview", "person").get(pk=participant_id)
    if not actor.is_archivist:
        raise Refused("Only the library's staff hand copies out.")
    refuse_unless(Act.TAKE, participant.interview, Audience.PARTY)
    if not carrier.strip():
        raise Refused("Say on what the copy was given, such as: a memory stick.")
    if on > timezone.localdate():
        raise Refused("The day lies in the future. Note it once the copy has been given.")
    record(
        actor=actor,
        action=Action.COPY_GIVEN,
        subject=participant,
        thread=participant.interview,
        names={"to": participant.person.name},
        on=on.isoformat(),
        carrier=carrier.strip(),
    )


def _send(
    participant: Participant,
    *,
    purpose: Purpose,
    moment: str,
    template: str,
    actor: User,
    expires_at: datetime | None = None,
) -> PrivateLink:
    address = address_of(participant.person)
    if not address:
        raise Refused(
            f"{participant.person} has no e-mail address here, so no link can be sent. Hand the device over, or sign "
            "on paper."
        )
    link, token = make_link(participant.pk, purpose=purpose, moment=moment, actor=actor, expires_at=expires_at)
    mail.write(
        key=f"private-link-{link.pk}",
        to=address,
        template=template,
        thread=participant.interview,
        context={
            "name": participant.person.name,
            "sender": actor.name,
            "is_agreement": moment == Moment.AGREEMENT,
            "url": site_url("narrator:link", token),
            "until": link.expires_at - timedelta(seconds=1),
        },
        holds_secret=True,
    )
    return link
