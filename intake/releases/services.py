"""Hand the device over, sign; and who has still to sign."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.db import transaction
from django.utils import timezone

from intake.accounts.models import User
from intake.audit.actions import Action
from intake.audit.services import record
from intake.codes import readable_code
from intake.errors import Refused, refuse_if
from intake.interviews import lifecycle
from intake.interviews.models import Interview, Part, Participant, State
from intake.jobs.models import Kind
from intake.jobs.services import enqueue
from intake.releases.evidence import evidence_digest
from intake.releases.models import (
    Access,
    Agreement,
    FormState,
    Method,
    Moment,
    PrivateLink,
    Release,
    SignedForm,
    SigningSession,
    Wording,
)
from intake.releases.wordings import digest_of_text, filled

SESSION_LASTS = timedelta(hours=2)
# A closure without an end cannot be kept (common practice, no source).
LONGEST_CLOSURE_YEARS = 100
SIGNABLE = frozenset({State.DRAFT, State.SUBMITTED, State.IN_REVIEW, State.RETURNED})


@dataclass(frozen=True)
class Choices:
    """What a signer chooses."""

    access: str
    closed_until: date | None = None
    closed_event: str = ""
    licence: str = ""
    name_withheld: bool = False


@dataclass(frozen=True)
class Signature:
    """How it was signed, and from where."""

    method: str
    typed_name: str
    png: bytes | None
    consented_at: datetime
    address: str | None
    agent: str


@transaction.atomic
def open_signing(participant_id: int, *, actor: User, moment: str = Moment.RELEASE) -> SigningSession:
    """Begin the session in which one person, and nobody else, signs, on a device that is handed over."""
    participant = Participant.objects.select_related("interview", "person").get(pk=participant_id)
    session = _begin(participant, moment, opened_by=actor, link=None)
    record(
        actor=actor,
        action=Action.SIGNING_OPENED,
        subject=participant,
        thread=participant.interview,
        names={"signer": participant.person.name},
        moment=moment,
    )
    return session


@transaction.atomic
def open_by_link(link: PrivateLink) -> SigningSession:
    """Begin the session in which the person signs to whom a private link was sent."""
    participant = Participant.objects.select_related("interview", "person").get(pk=link.participant_id)
    session = _begin(participant, link.moment, opened_by=link.made_by, link=link)
    record(
        actor=None,
        action=Action.LINK_OPENED,
        subject=participant,
        thread=participant.interview,
        names={"signer": participant.person.name},
        purpose=link.purpose,
    )
    return session


def _begin(participant: Participant, moment: str, *, opened_by: User, link: PrivateLink | None) -> SigningSession:
    """Earlier sessions of the same person end."""
    refuse_unless_signable(participant, moment)
    if moment == Moment.RELEASE:
        _refuse_while_a_form_waits(participant)
    now = timezone.now()
    participant.signing_sessions.filter(used_at=None, expires_at__gt=now).update(expires_at=now)
    return SigningSession.objects.create(
        participant=participant, moment=moment, link=link, opened_by=opened_by, expires_at=now + SESSION_LASTS
    )


def live_session(session_id: int | None) -> SigningSession:
    """A signing session that still works. Raises Refused."""
    session = (
        SigningSession.objects.select_related(
            "participant__person", "participant__interview__collection", "opened_by", "link"
        )
        .filter(pk=session_id or 0, used_at=None, expires_at__gt=timezone.now())
        .first()
    )
    if session is None:
        raise Refused("This signing has ended. Give the device back, and ask for it to be handed over again.")
    return session


@transaction.atomic
def sign(session_id: int, *, wording_id: int, text_sha256: str, choices: Choices, signature: Signature) -> Release:
    """Keep the release that was signed, word for word, with its evidence; the session is spent. Two clicks sign once.

    `text_sha256` is the digest of the text as it was shown: nobody signs other words than they read.
    """
    session = _to_sign(session_id, Moment.RELEASE)
    _refuse_while_a_form_waits(session.participant)
    wording, text = _as_read(session, wording_id, text_sha256)
    refuse_bad_choices(choices, on=timezone.localdate(), wording=wording)
    now = _spend(session)
    release = Release.objects.create(**_evidence(session, wording, text, signature, now), **vars(choices))
    record(
        actor=None,
        action=Action.RELEASE_SIGNED,
        subject=release,
        thread=session.participant.interview,
        names={"signer": session.participant.person.name},
        wording=wording.pk,
        wording_sha256=release.wording_sha256,
        method=signature.method,
        evidence_sha256=evidence_digest(release),
    )
    enqueue(Kind.MAKE_RELEASE_COPY, release.pk)
    return release


@transaction.atomic
def agree(session_id: int, *, wording_id: int, text_sha256: str, signature: Signature) -> Agreement:
    """Keep the participation agreement that was signed, in the same way."""
    session = _to_sign(session_id, Moment.AGREEMENT)
    wording, text = _as_read(session, wording_id, text_sha256)
    now = _spend(session)
    agreement = Agreement.objects.create(**_evidence(session, wording, text, signature, now))
    record(
        actor=None,
        action=Action.AGREEMENT_SIGNED,
        subject=agreement,
        thread=session.participant.interview,
        names={"signer": session.participant.person.name},
        wording=wording.pk,
        wording_sha256=agreement.wording_sha256,
        method=signature.method,
        evidence_sha256=evidence_digest(agreement),
    )
    enqueue(Kind.MAKE_AGREEMENT_COPY, agreement.pk)
    return agreement


@transaction.atomic
def note_spoken_agreement(participant_id: int, *, part_id: int, at_seconds: float, actor: User) -> Agreement:
    """Note that somebody agreed aloud on the recording, and where that is heard."""
    participant = Participant.objects.select_related("interview", "person").get(pk=participant_id)
    refuse_unless_signable(participant, Moment.AGREEMENT)
    part = Part.objects.filter(pk=part_id, interview=participant.interview, position__isnull=False).first()
    if part is None:
        raise Refused("Choose the part of this interview in which it is heard.")
    agreement = Agreement.objects.create(
        participant=participant,
        number=f"P-{readable_code(3)}",
        signer_name=participant.person.name,
        method=Method.SPOKEN,
        spoken_in=part,
        spoken_at_seconds=at_seconds,
        noted_by=actor,
        interview_as_described=as_described(participant.interview),
    )
    record(
        actor=actor,
        action=Action.AGREEMENT_NOTED,
        subject=agreement,
        thread=participant.interview,
        names={"signer": participant.person.name},
        part=part.pk,
        at_seconds=at_seconds,
        evidence_sha256=evidence_digest(agreement),
    )
    return agreement


def _to_sign(session_id: int, moment: str) -> SigningSession:
    session = live_session(session_id)
    if session.moment != moment:
        raise Refused("This was opened for another paper. Ask for it to be handed over again.")
    refuse_unless_signable(session.participant, moment)
    return session


def _as_read(session: SigningSession, wording_id: int, text_sha256: str) -> tuple[Wording, str]:
    """The wording and the text that was read. Raises Refused where it is not that text any more."""
    wording = Wording.objects.filter(pk=wording_id, role=session.participant.role, moment=session.moment).first()
    if wording is None:
        raise Refused("This text is not offered any more. Open it again and read it.")
    text = filled(wording, session.participant)
    if digest_of_text(text) != text_sha256:
        raise Refused(
            "The interview was described anew, and the text has changed with it. Read it once more, then sign."
        )
    return wording, text


def _spend(session: SigningSession) -> datetime:
    """Two clicks sign once; a private link is used up with its session."""
    now = timezone.now()
    if not SigningSession.objects.filter(pk=session.pk, used_at=None).update(used_at=now):
        raise Refused("This has been signed already.")
    if session.link:
        PrivateLink.objects.filter(pk=session.link.pk).update(ended_at=now)
    return now


def _evidence(
    session: SigningSession, wording: Wording, text: str, signature: Signature, now: datetime
) -> dict[str, Any]:
    participant = session.participant
    letter = "S" if session.moment == Moment.RELEASE else "P"
    return {
        "participant": participant,
        "signer_name": participant.person.name,
        "number": f"{letter}-{readable_code(3)}",
        "wording": wording,
        "wording_text": text,
        "wording_sha256": digest_of_text(text),
        "signature_png": signature.png if signature.method == Method.DRAWN else None,
        "method": signature.method,
        "typed_name": signature.typed_name if signature.method == Method.TYPED else "",
        "consented_at": signature.consented_at,
        "signed_at": now,
        "address": signature.address,
        "agent": signature.agent[:300],
        "session": session,
        "interview_as_described": as_described(participant.interview),
    }


def standing(participant: Participant) -> Release | None:
    """The release that holds for this person, if there is one. Uses prefetched releases where there are any."""
    return next((release for release in participant.releases.all() if release.withdrawn_at is None), None)


def form_in_hand(participant: Participant, moment: str = Moment.RELEASE) -> SignedForm | None:
    """The latest signed form of this person, unless it was confirmed. Uses prefetched forms where there are any."""
    printed = [form for form in participant.printed_forms.all() if form.moment == moment]
    forms = [signed for form in printed for signed in form.signed_forms.all()]
    latest = max(forms, key=lambda signed: signed.pk, default=None)
    return None if latest is None or latest.state == FormState.CONFIRMED else latest


def signers_of(interview: Interview) -> list[Participant]:
    """Everybody who signs, with their persons, agreements, releases, paper forms and links."""
    return list(
        interview.participants.select_related("person", "ward__person").prefetch_related(
            "releases__signed_form",
            "releases__lifting",
            "printed_forms__wording",
            "printed_forms__signed_forms",
            "agreements__signed_form",
            "private_links",
        )
    )


def missing_signatures(interview: Interview) -> list[str]:
    """A sentence for each person whose release is still to be signed, or whose paper form is still to be confirmed."""
    signers = signers_of(interview)
    guarded = {signer.ward_id for signer in signers if signer.ward_id}
    without = [signer for signer in signers if signer.needs_guardian and signer.pk not in guarded]
    # Who cannot sign alone may sign as well; it is the guardian's release that must be there.
    must_sign = [signer for signer in signers if not signer.needs_guardian]
    return [f"{signer.person} cannot sign alone, and no guardian is named for them." for signer in without] + [
        _missing(signer) for signer in must_sign if standing(signer) is None
    ]


def all_signed(signers: list[Participant]) -> bool:
    """Whether nobody's signature is missing: the same as above, from participants whose releases are at hand."""
    guarded = {signer.ward_id for signer in signers if signer.ward_id}
    return all(signer.pk in guarded if signer.needs_guardian else standing(signer) is not None for signer in signers)


def _missing(participant: Participant) -> str:
    form = form_in_hand(participant)
    if form and form.state == FormState.WAITING:
        return f"The paper form of {participant.person} waits to be confirmed by the library's staff."
    return f"The release of {participant.person} ({participant.get_role_display().lower()}) is not signed."


def as_described(interview: Interview) -> dict[str, object]:
    """The interview as it stood when it was signed for."""
    return {
        "title": interview.title,
        "collection": interview.collection.name,
        "recorded_on": interview.recorded_on.isoformat(),
        "place": interview.place,
        "language": interview.language,
        "narrators": [person.name for person in interview.people(Participant.Role.NARRATOR)],
        "interviewers": [person.name for person in interview.people(Participant.Role.INTERVIEWER)],
    }


def _refuse_while_a_form_waits(participant: Participant) -> None:
    """What is signed on paper and on the screen could differ: one is decided before the other begins."""
    if SignedForm.objects.filter(form__participant=participant, state=FormState.WAITING).exists():
        raise Refused(
            f"{participant.person} has signed on paper, and the form waits to be confirmed by the library's staff."
        )


def refuse_unless_signable(participant: Participant, moment: str = Moment.RELEASE) -> None:
    """Lock the interview, and see that this person may sign for it now. Raises Refused."""
    # The lock keeps an acceptance at the same moment from missing this signature, or this one from following it.
    interview = lifecycle.locked(participant.interview_id)
    if interview.state not in SIGNABLE:
        raise Refused(
            f"This interview is {interview.get_state_display().lower()}, so nothing can be signed for it now."
        )
    has_signed = (
        participant.releases.filter(withdrawn_at=None).exists()
        if moment == Moment.RELEASE
        else participant.agreements.exists()
    )
    if has_signed:
        raise Refused(f"{participant.person} has {'signed' if moment == Moment.RELEASE else 'agreed'} already.")


def refuse_bad_choices(choices: Choices, *, on: date, wording: Wording) -> None:
    """Whether a signer of this wording could choose this on that day. Raises Refused."""
    if choices.licence and not wording.offers_licences:
        raise Refused("This release hands no licence out, so no public licence is chosen with it.")
    if choices.licence and choices.access != Access.OPEN:
        raise Refused("A public licence is for recordings that anybody may hear. Choose “Open”, or no public licence.")
    if choices.access != Access.CLOSED:
        has_end = choices.closed_until or choices.closed_event
        refuse_if(["A day or an event is chosen only where the recording is closed until then."] if has_end else [])
        return
    if choices.closed_until is None or choices.closed_until <= on:
        raise Refused("Choose a day after that of the signature until which the recording stays closed.")
    if choices.closed_until.year - on.year > LONGEST_CLOSURE_YEARS:
        raise Refused(
            f"A recording can be closed for at most {LONGEST_CLOSURE_YEARS} years here. Ask the library about longer."
        )
