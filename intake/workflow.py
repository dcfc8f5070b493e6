"""The story: every move of an interview, in the order in which they happen.

Each move locks the interview, checks what must hold, changes the state and records the event, in one transaction.
What must hold before a hand-in and an acceptance stands in `readiness.py`, before cataloguing in
`catalogue/complete.py`, who hears of a move in `telling.py`.
"""

from django.db import transaction
from django.utils import timezone

from intake import telling
from intake.access.policy import Situation
from intake.accounts.models import Role, User
from intake.accounts.services import staff
from intake.audit.actions import Action
from intake.audit.services import record
from intake.catalogue.complete import missing_before_cataloguing
from intake.errors import DoneAlready, Refused, refuse_if
from intake.interviews import lifecycle
from intake.interviews.models import Interview, State
from intake.jobs.models import Kind
from intake.jobs.services import enqueue
from intake.outputs.issuing import print_quality_reports
from intake.people.services import address_of
from intake.readiness import missing_before_acceptance, missing_before_submission, worth_knowing
from intake.register import arrivals
from intake.register import services as register
from intake.register.models import Accession
from intake.releases import withdrawals
from intake.releases.models import WithdrawalRequest
from intake.review.models import Verdict
from intake.review.services import open_problems, record_decision


@transaction.atomic
def submit(interview_id: int, *, actor: User) -> Interview:
    """The volunteer hands the interview in, and gets an arrival receipt.

    A missing release is named on the page and does not stop the hand-in.
    """
    interview = lifecycle.locked(interview_id)
    refuse_if(_not_theirs(interview, actor) or _in_review(interview))
    lifecycle.refuse_unless_allowed(interview, to=State.SUBMITTED)
    refuse_if(missing_before_submission(interview))
    interview.submitted_at = timezone.now()
    arrival = arrivals.note_arrival(interview, actor=actor)
    enqueue(Kind.MAKE_ARRIVAL_RECEIPT, arrival.pk)
    enqueue(Kind.TELL_CARD, interview.pk)
    return lifecycle.move(
        interview,
        to=State.SUBMITTED,
        actor=actor,
        action=Action.SUBMITTED,
        arrival_receipt=arrival.number,
        **_worth_noting(interview),
    )


@transaction.atomic
def take_up(interview_id: int, *, actor: User) -> Interview:
    """An archivist begins the review; the interview is theirs to decide."""
    interview = lifecycle.locked(interview_id)
    refuse_if(_not_waiting(interview, actor) or _not_staff(actor) or cannot_review(interview, actor))
    interview.reviewer = actor
    return _under_review(interview, actor=actor, action=Action.TAKEN_UP)


@transaction.atomic
def take_over(interview_id: int, *, actor: User) -> Interview:
    """Go on with the review of somebody who has left, or whose own interview it turned out to be."""
    interview = lifecycle.locked(interview_id)
    refuse_if(_not_staff(actor) or cannot_review(interview, actor))
    if not is_stuck(interview):
        raise Refused("This review is in good hands: it is taken over only from somebody who cannot go on with it.")
    before, interview.reviewer = interview.reviewer, actor
    interview.save(update_fields=["reviewer"])
    record(actor=actor, action=Action.REVIEW_TAKEN_OVER, subject=interview, names={"from": str(before)})
    return interview


@transaction.atomic
def hand_over(interview_id: int, *, to: User, note: str, actor: User) -> Interview:
    """Put the review in a colleague's hands, who finds it among their own. A coordinator does it for anybody."""
    interview = lifecycle.locked(interview_id)
    refuse_if(_not_staff(actor) or _not_in_review(interview))
    if interview.reviewer_id == to.pk:
        raise DoneAlready(f"{to} is reviewing this interview already.")
    if interview.reviewer_id != actor.pk and actor.role != Role.COORDINATOR:
        raise Refused(f"{interview.reviewer} is reviewing this interview, and hands it over; so may a coordinator.")
    if not (to.is_active and to.is_archivist):
        raise Refused(f"{to} does not review interviews.")
    refuse_if([f"{to} gave this interview or takes part in it."] if cannot_review(interview, to) else [])
    names = {"from": str(interview.reviewer), "to": str(to), **({"note": note.strip()} if note.strip() else {})}
    interview.reviewer = to
    interview.save(update_fields=["reviewer"])
    record(actor=actor, action=Action.REVIEW_HANDED_OVER, subject=interview, names=names)
    return interview


@transaction.atomic
def put_back(interview_id: int, *, actor: User) -> Interview:
    """The reviewer leaves the review to somebody else: it waits in the queue again, in its old place."""
    interview = lifecycle.locked(interview_id)
    if interview.state == State.SUBMITTED:
        raise DoneAlready("This interview waits for a reviewer already.")
    refuse_if(_not_in_review(interview) or _not_the_reviewer(interview, actor))
    interview.reviewer = None
    return lifecycle.move(interview, to=State.SUBMITTED, actor=actor, action=Action.REVIEW_PUT_BACK)


@transaction.atomic
def send_back(interview_id: int, *, message: str, actor: User) -> Interview:
    """Return the interview to the volunteer with a message that says what to do."""
    if not message.strip():
        raise Refused("Write to the volunteer what to do next.")
    interview = lifecycle.locked(interview_id)
    refuse_if(_not_the_reviewer(interview, actor))
    because = open_problems(interview)
    interview = lifecycle.move(
        interview,
        to=State.RETURNED,
        actor=actor,
        action=Action.SENT_BACK,
        names={"message": message},
        **({"because": because} if because else {}),
    )
    decision = record_decision(interview, verdict=Verdict.SENT_BACK, message=message, actor=actor)
    telling.of_decision(interview, decision, template="sent_back")
    return interview


@transaction.atomic
def decline(interview_id: int, *, reason: str, actor: User) -> Interview:
    """Say no, with the reason. What was handed in is kept until the library's retention rule says otherwise."""
    if not reason.strip():
        raise Refused("Write to the volunteer why the interview is declined.")
    interview = lifecycle.locked(interview_id)
    refuse_if(_not_the_reviewer(interview, actor))
    interview = lifecycle.move(
        interview, to=State.DECLINED, actor=actor, action=Action.DECLINED, names={"message": reason}
    )
    decision = record_decision(interview, verdict=Verdict.DECLINED, message=reason, actor=actor)
    telling.of_decision(interview, decision, template="declined")
    return interview


@transaction.atomic
def accept(interview_id: int, *, actor: User) -> Accession:
    """Take the interview in: accession number, register entry, receipt, and a place in the catalogue queue."""
    interview = lifecycle.locked(interview_id)
    lifecycle.refuse_unless_allowed(interview, to=State.ACCEPTED)
    refuse_if(_not_the_reviewer(interview, actor))
    refuse_if(missing_before_acceptance(interview))
    accession = register.enter(interview, actor=actor)
    lifecycle.move(
        interview,
        to=State.ACCEPTED,
        actor=actor,
        action=Action.ACCEPTED,
        accession=accession.number,
        **({"own_interview": True} if _is_own(interview, actor) else {}),
        **_worth_noting(interview),
    )
    record_decision(interview, verdict=Verdict.ACCEPTED, message="", actor=actor)
    enqueue(Kind.MAKE_RECEIPT, accession.pk)
    enqueue(Kind.MAKE_DESCRIBED_COPIES, accession.pk)
    enqueue(Kind.MAKE_ACCESS_COPIES, interview.pk)
    print_quality_reports(interview)
    return accession


@transaction.atomic
def describe(interview_id: int, *, actor: User) -> Interview:
    """The record of an accepted interview is complete: it is catalogued, and harvesters may read of it."""
    interview = lifecycle.locked(interview_id)
    refuse_if(_not_staff(actor))
    lifecycle.refuse_unless_allowed(interview, to=State.CATALOGUED)
    refuse_if(_contested_sentence(interview) or missing_before_cataloguing(interview))
    return lifecycle.move(interview, to=State.CATALOGUED, actor=actor, action=Action.CATALOGUED)


@transaction.atomic
def describe_again(interview_id: int, *, actor: User) -> Interview:
    """Put a catalogued interview back into the catalogue queue; until it is complete again nobody harvests it."""
    interview = lifecycle.locked(interview_id)
    refuse_if(_not_staff(actor) or _not_catalogued(interview))
    return lifecycle.move(interview, to=State.ACCEPTED, actor=actor, action=Action.DESCRIBED_AGAIN)


@transaction.atomic
def propose_undo(interview_id: int, *, reason: str, actor: User) -> Accession:
    """The first of two people says that the interview was accepted by mistake. Nothing else changes yet."""
    if not reason.strip():
        raise Refused("Say why the acceptance was a mistake. Whoever gave the interview reads it.")
    interview = lifecycle.locked(interview_id)
    accession = _accepted_as(interview, actor)
    if accession.undo_proposed_by:
        raise Refused(f"{accession.undo_proposed_by} has proposed it already. Somebody else confirms or turns it down.")
    register.propose_undo(accession, reason=reason, actor=actor)
    _record_undo(Action.UNDO_PROPOSED, accession, interview, actor, reason)
    return accession


@transaction.atomic
def confirm_undo(interview_id: int, *, actor: User) -> Accession:
    """The second person undoes the acceptance: the number is spent for ever, and the interview is in review again."""
    interview = lifecycle.locked(interview_id)
    accession = _proposed(interview, actor)
    if accession.undo_proposed_by_id == actor.pk:
        raise Refused("Undoing an acceptance takes two people: somebody else confirms what you proposed.")
    register.undo(accession, actor=actor)
    if interview.reviewer is None or not interview.reviewer.is_active:
        interview.reviewer = actor
    details = {"accession": accession.number, "proposed_by": accession.undo_proposed_by_id}
    names = {"reason": accession.undo_reason}
    lifecycle.move(interview, to=State.IN_REVIEW, actor=actor, action=Action.ACCEPTANCE_UNDONE, names=names, **details)
    telling.of_undoing(interview, accession)
    return accession


@transaction.atomic
def refuse_undo(interview_id: int, *, reason: str, actor: User) -> Accession:
    """The acceptance stands: somebody turns the proposal down, or whoever made it takes it back."""
    if not reason.strip():
        raise Refused("Say in a few words why the acceptance stands.")
    interview = lifecycle.locked(interview_id)
    accession = _proposed(interview, actor)
    _record_undo(Action.UNDO_REFUSED, accession, interview, actor, reason)
    register.drop_proposal(accession)
    return accession


@transaction.atomic
def withdraw(interview_id: int, *, reason: str, actor: User) -> Interview:
    """Take the interview back before it is accepted. Nothing is deleted: withdrawing is a state with a reason."""
    if not reason.strip():
        raise Refused("Say in a few words why the interview is withdrawn.")
    interview = lifecycle.locked(interview_id)
    refuse_if(_not_theirs(interview, actor))
    return lifecycle.move(interview, to=State.WITHDRAWN, actor=actor, action=Action.WITHDRAWN, names={"reason": reason})


@transaction.atomic
def ask_withdrawal(interview_id: int, *, wished_by: str, reason: str, actor: User) -> WithdrawalRequest:
    """After acceptance the wish to withdraw is a request: access stops at once, until the staff have decided."""
    interview = lifecycle.locked(interview_id)
    refuse_if(_not_theirs(interview, actor))
    request = withdrawals.ask(interview, wished_by=wished_by, reason=reason, actor=actor)
    telling.of_request(interview, request)
    return request


@transaction.atomic
def take_down(interview_id: int, *, reason: str, actor: User) -> Interview:
    """Grant a request to withdraw. Nothing is deleted: nobody hears the interview, and no copy or package leaves."""
    interview = lifecycle.locked(interview_id)
    request = _contested(interview, actor)
    withdrawals.decide(request, is_granted=True, reason=reason, actor=actor)
    names = {"wished by": request.wished_by, "reason": request.decided_because}
    interview = lifecycle.move(interview, to=State.TAKEN_DOWN, actor=actor, action=Action.TAKEN_DOWN, names=names)
    telling.of_withdrawal(interview, request)
    return interview


@transaction.atomic
def refuse_withdrawal(interview_id: int, *, reason: str, actor: User) -> Interview:
    """Turn a request to withdraw down, with the reason; access is what the releases say again."""
    interview = lifecycle.locked(interview_id)
    request = _contested(interview, actor)
    withdrawals.decide(request, is_granted=False, reason=reason, actor=actor)
    record(
        actor=actor,
        action=Action.WITHDRAWAL_REFUSED,
        subject=request,
        thread=interview,
        names={"wished by": request.wished_by, "reason": request.decided_because},
    )
    telling.of_withdrawal(interview, request)
    return interview


def cannot_review(interview: Interview, actor: User) -> list[str]:
    """Nobody judges what they gave or took part in, as long as somebody else of the staff can (docs/decisions/0013)."""
    if not _is_own(interview, actor) or not _others_who_can_review(interview, actor):
        return []
    return ["You gave this interview or take part in it, so somebody else of the staff reviews it."]


def is_stuck(interview: Interview) -> bool:
    """In review by somebody who cannot decide it: they have left, or it is their own and somebody else can."""
    reviewer = interview.reviewer
    if interview.state != State.IN_REVIEW or reviewer is None:
        return False
    return not (reviewer.is_active and reviewer.is_archivist) or bool(cannot_review(interview, reviewer))


def to_be_told_otherwise(interview: Interview) -> str:
    """Whom no message reaches: a giver without an address hears of a decision by telephone or letter."""
    decided = interview.state in {State.RETURNED, State.DECLINED} or interview.accessions.exists()
    if not decided or address_of(interview.given_by):
        return ""
    return f"{interview.given_by} has no e-mail address: tell them by telephone or by letter how this interview stands."


def _is_own(interview: Interview, actor: User) -> bool:
    """Whether they gave it or take part in it. Looking after it for somebody who came to the counter is not that."""
    if interview.given_by.user_id == actor.pk:
        return True
    return interview.participants.filter(person__user=actor).exists()


def _others_who_can_review(interview: Interview, actor: User) -> bool:
    return any(not _is_own(interview, other) for other in staff().exclude(pk=actor.pk))


def _under_review(interview: Interview, *, actor: User, action: Action) -> Interview:
    interview = lifecycle.move(interview, to=State.IN_REVIEW, actor=actor, action=action)
    if _is_own(interview, actor):
        record(actor=actor, action=Action.OWN_INTERVIEW_REVIEWED, subject=interview)
    return interview


def _not_waiting(interview: Interview, actor: User) -> list[str]:
    if interview.is_taken_in:
        return ["This interview is accepted. Only two people together undo an acceptance that was a mistake."]
    if interview.state == State.IN_REVIEW and interview.reviewer_id != actor.pk:
        return [f"{interview.reviewer} is reviewing this interview."]
    return []


def _in_review(interview: Interview) -> list[str]:
    """The way back to submitted is the reviewer's: put_back."""
    return [lifecycle.STANDS[State.IN_REVIEW]] if interview.state == State.IN_REVIEW else []


def _not_catalogued(interview: Interview) -> list[str]:
    return [] if interview.state == State.CATALOGUED else ["This interview is not catalogued."]


def _contested_sentence(interview: Interview) -> list[str]:
    return [Situation.CONTESTED.value] if withdrawals.pending(interview) else []


def _not_in_review(interview: Interview) -> list[str]:
    return [] if interview.state == State.IN_REVIEW else ["This interview is not in review."]


def _accepted_as(interview: Interview, actor: User) -> Accession:
    """The accession that stands. Raises Refused."""
    refuse_if(_not_staff(actor))
    accession = register.standing(interview)
    if interview.state == State.CATALOGUED:
        raise Refused("This interview is catalogued. Put it back into the catalogue queue before it is undone.")
    if accession is None or interview.state != State.ACCEPTED:
        raise Refused("This interview is not accepted, so there is no acceptance to undo.")
    return accession


def _proposed(interview: Interview, actor: User) -> Accession:
    """The accession that stands and that somebody proposes to undo. Raises Refused."""
    accession = _accepted_as(interview, actor)
    if accession.undo_proposed_by is None:
        raise Refused("Nobody proposes to undo this acceptance now.")
    return accession


def _record_undo(action: Action, accession: Accession, interview: Interview, actor: User, reason: str) -> None:
    record(
        actor=actor,
        action=action,
        subject=accession,
        thread=interview,
        names={"reason": reason},
        accession=accession.number,
    )


def _contested(interview: Interview, actor: User) -> WithdrawalRequest:
    """The request that waits, for staff to decide on. Raises Refused."""
    refuse_if(_not_staff(actor))
    request = withdrawals.pending(interview)
    if request is None:
        raise Refused("No request to withdraw this interview waits for a decision.")
    return request


def _worth_noting(interview: Interview) -> dict[str, list[str]]:
    """For the event of a move: what was told, if there was anything."""
    told = worth_knowing(interview)
    return {"worth_knowing": told} if told else {}


def _not_staff(actor: User) -> list[str]:
    return [] if actor.is_archivist else ["Only the library's staff review interviews."]


def _not_theirs(interview: Interview, actor: User) -> list[str]:
    """An interview is its volunteer's to hand in and to withdraw; staff do it for a volunteer who asks."""
    if actor.is_archivist or interview.owner_id == actor.pk:
        return []
    return ["This interview is somebody else's."]


def _not_the_reviewer(interview: Interview, actor: User) -> list[str]:
    """Two people do not decide one interview: the reviewer who took it up does."""
    if interview.state == State.IN_REVIEW and interview.reviewer_id != actor.pk:
        return [f"{interview.reviewer} is reviewing this interview."]
    return _not_staff(actor) or cannot_review(interview, actor)
