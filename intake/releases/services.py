"""Hand the device over, sign; and who has still to sign."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db import transaction
from django.utils import timezone

from intake.accounts.models import User
from intake.audit.actions import Action
from intake.audit.services import record
from intake.codes import readable_code
from intake.errors import Refused, refuse_if
from intake.interviews import lifecycle
from intake.interviews.models import Interview, Participant, State
from intake.jobs.models import Kind
from intake.jobs.services import enqueue
from intake.releases.models import (
    Access,
    FormState,
    Method,
    Release,
    SignedForm,
    SigningSession,
    Wording,
)

SESSION_LASTS = timedelta(hours=2)
# A closure without an end cannot be kept (common practice, no source).
LONGEST_CLOSURE_YEARS = 100
SIGNABLE = frozenset({State.DRAFT, State.SUBMITTED, State.IN_REVIEW, State.RETURNED})


@dataclass(frozen=True)
class Choices:
    """What a signer chooses."""

    access: str
    closed_until: date | None
    closed_event: str
    name_withheld: bool


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
def open_signing(participant_id: int, *, actor: User) -> SigningSession:
    """Begin the session in which one person, and nobody else, signs. Earlier sessions of the same person end."""
    participant = Participant.objects.select_related("interview", "person").get(pk=participant_id)
    refuse_unless_signable(participant)
    _refuse_while_a_form_waits(participant)
    now = timezone.now()
    participant.signing_sessions.filter(used_at=None, expires_at__gt=now).update(expires_at=now)
    session = SigningSession.objects.create(participant=participant, opened_by=actor, expires_at=now + SESSION_LASTS)
    record(
        actor=actor,
        action=Action.SIGNING_OPENED,
        subject=participant,
        thread=participant.interview,
        names={"signer": participant.person.name},
    )
    return session


def live_session(session_id: int | None) -> SigningSession:
    """A signing session that still works. Raises Refused."""
    session = (
        SigningSession.objects.select_related("participant__person", "participant__interview", "opened_by")
        .filter(pk=session_id or 0, used_at=None, expires_at__gt=timezone.now())
        .first()
    )
    if session is None:
        raise Refused("This signing has ended. Give the device back, and ask for it to be handed over again.")
    return session


def wording_for(role: str, language: str) -> Wording:
    """The newest wording for a role in the signer's language, else in English."""
    for wanted in (language, language.partition("-")[0], "en"):
        wording = Wording.objects.filter(role=role, language=wanted).order_by("-version").first()
        if wording:
            return wording
    raise Refused("The library has not put a release wording into force yet. Ask the coordinator.")


@transaction.atomic
def sign(session_id: int, *, wording_id: int, choices: Choices, signature: Signature) -> Release:
    """Keep what was signed, word for word, with its evidence; the session is spent. Two clicks sign once."""
    session = live_session(session_id)
    participant = session.participant
    refuse_unless_signable(participant)
    _refuse_while_a_form_waits(participant)
    refuse_bad_choices(choices, on=timezone.localdate())
    wording = Wording.objects.filter(pk=wording_id, role=participant.role).first()
    if wording is None:
        raise Refused("This text is not offered any more. Open the release again and read it.")
    now = timezone.now()
    if not SigningSession.objects.filter(pk=session.pk, used_at=None).update(used_at=now):
        raise Refused("This release has been signed already.")
    release = _create(session, wording, choices, signature, now)
    record(
        actor=None,
        action=Action.RELEASE_SIGNED,
        subject=release,
        thread=participant.interview,
        names={"signer": participant.person.name},
        wording=wording.pk,
        wording_sha256=release.wording_sha256,
        method=signature.method,
    )
    enqueue(Kind.MAKE_RELEASE_COPY, release.pk)
    return release


def standing(participant: Participant) -> Release | None:
    """The release that holds for this person, if there is one. Uses prefetched releases where there are any."""
    return next((release for release in participant.releases.all() if release.withdrawn_at is None), None)


def form_in_hand(participant: Participant) -> SignedForm | None:
    """The latest signed form of this person, unless it was confirmed. Uses prefetched forms where there are any."""
    forms = [signed for form in participant.release_forms.all() for signed in form.signed_forms.all()]
    latest = max(forms, key=lambda signed: signed.pk, default=None)
    return None if latest is None or latest.state == FormState.CONFIRMED else latest


def signers_of(interview: Interview) -> list[Participant]:
    """Everybody who has to sign, with their persons, releases and paper forms."""
    return list(
        interview.participants.select_related("person").prefetch_related(
            "releases__signed_form", "release_forms__signed_forms"
        )
    )


def missing_signatures(interview: Interview) -> list[str]:
    """A sentence for each person whose release is still to be signed, or whose paper form is still to be confirmed."""
    return [_missing(participant) for participant in signers_of(interview) if standing(participant) is None]


def _missing(participant: Participant) -> str:
    form = form_in_hand(participant)
    if form and form.state == FormState.WAITING:
        return f"The paper form of {participant.person} waits to be confirmed by the library's staff."
    return f"The release of {participant.person} ({participant.get_role_display().lower()}) is not signed."


def _create(
    session: SigningSession, wording: Wording, choices: Choices, signature: Signature, now: datetime
) -> Release:
    return Release.objects.create(
        participant=session.participant,
        signer_name=session.participant.person.name,
        number=f"S-{readable_code(3)}",
        wording=wording,
        wording_text=wording.text,
        wording_sha256=wording.sha256,
        signature_png=signature.png if signature.method == Method.DRAWN else None,
        method=signature.method,
        typed_name=signature.typed_name if signature.method == Method.TYPED else "",
        consented_at=signature.consented_at,
        signed_at=now,
        address=signature.address,
        agent=signature.agent[:300],
        session=session,
        interview_as_described=as_described(session.participant.interview),
        **vars(choices),
    )


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


def refuse_unless_signable(participant: Participant) -> None:
    """Lock the interview, and see that this person may sign for it now. Raises Refused."""
    # The lock keeps an acceptance at the same moment from missing this signature, or this one from following it.
    interview = lifecycle.locked(participant.interview_id)
    if interview.state not in SIGNABLE:
        raise Refused(
            f"This interview is {interview.get_state_display().lower()}, so nothing can be signed for it now."
        )
    if participant.releases.filter(withdrawn_at=None).exists():
        raise Refused(f"{participant.person} has signed already.")


def refuse_bad_choices(choices: Choices, *, on: date) -> None:
    """Whether a signer could choose this on that day. Raises Refused."""
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
