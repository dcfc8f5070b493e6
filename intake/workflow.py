"""The story: every move of an interview, in the order in which they happen.

Each move locks the interview, checks what must hold, changes the state and records the event, in one transaction.
What is missing is told by the same functions to the page's checklist and to the refusal, so they cannot disagree.
"""

from django.db import transaction
from django.db.models import prefetch_related_objects
from django.utils import timezone

from intake.accounts.models import User
from intake.audit.actions import Action
from intake.errors import Refused, refuse_if
from intake.files.models import UploadState
from intake.files.services import is_safe
from intake.interviews import lifecycle
from intake.interviews.models import Interview, Part, State
from intake.interviews.services import parts_of
from intake.jobs.models import Kind
from intake.jobs.services import enqueue
from intake.mail import services as mail
from intake.outputs.services import site_url
from intake.qc.services import latest_report
from intake.register import services as register
from intake.register.models import Accession
from intake.releases.services import missing_signatures
from intake.review.models import Verdict
from intake.review.services import record_decision, unanswered


@transaction.atomic
def submit(interview_id: int, *, actor: User) -> Interview:
    """The volunteer hands the interview in. A missing release is named on the page and does not stop the hand-in."""
    interview = lifecycle.locked(interview_id)
    refuse_if(_not_theirs(interview, actor))
    lifecycle.refuse_unless_allowed(interview, to=State.SUBMITTED)
    refuse_if(missing_before_submission(interview))
    interview.submitted_at = timezone.now()
    return lifecycle.move(
        interview, to=State.SUBMITTED, actor=actor, action=Action.SUBMITTED, **_worth_noting(interview)
    )


@transaction.atomic
def take_up(interview_id: int, *, actor: User) -> Interview:
    """An archivist begins the review; the interview is theirs to decide."""
    interview = lifecycle.locked(interview_id)
    refuse_if(_not_staff(actor))
    interview.reviewer = actor
    return lifecycle.move(interview, to=State.IN_REVIEW, actor=actor, action=Action.TAKEN_UP)


@transaction.atomic
def send_back(interview_id: int, *, message: str, actor: User) -> Interview:
    """Return the interview to the volunteer with a message that says what to do."""
    if not message.strip():
        raise Refused("Write to the volunteer what to do next.")
    interview = lifecycle.locked(interview_id)
    refuse_if(_not_the_reviewer(interview, actor))
    interview = lifecycle.move(
        interview, to=State.RETURNED, actor=actor, action=Action.SENT_BACK, names={"message": message}
    )
    _decide(interview, verdict=Verdict.SENT_BACK, message=message, actor=actor, template="sent_back")
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
    _decide(interview, verdict=Verdict.DECLINED, message=reason, actor=actor, template="declined")
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
        **_worth_noting(interview),
    )
    record_decision(interview, verdict=Verdict.ACCEPTED, message="", actor=actor)
    enqueue(Kind.MAKE_RECEIPT, accession.pk)
    return accession


@transaction.atomic
def withdraw(interview_id: int, *, reason: str, actor: User) -> Interview:
    """Take the interview back before it is accepted. Nothing is deleted: withdrawing is a state with a reason."""
    if not reason.strip():
        raise Refused("Say in a few words why the interview is withdrawn.")
    interview = lifecycle.locked(interview_id)
    refuse_if(_not_theirs(interview, actor))
    return lifecycle.move(interview, to=State.WITHDRAWN, actor=actor, action=Action.WITHDRAWN, names={"reason": reason})


def missing_before_submission(interview: Interview) -> list[str]:
    """What the volunteer still has to do before handing in: sentences, none when ready."""
    parts = parts_of(interview)
    missing = [] if parts else ["Add at least one recording."]
    missing += [sentence for part in parts for sentence in _not_arrived(part)]
    if not interview.summary.strip():
        missing.append("Write a few words on what the interview is about.")
    if not interview.people("narrator"):
        missing.append("Name the narrator.")
    if not interview.people("interviewer"):
        missing.append("Name the interviewer.")
    return missing


def missing_before_acceptance(interview: Interview) -> list[str]:
    """What must still hold before the interview can be accepted: sentences, none when ready."""
    parts = parts_of(interview)
    prefetch_related_objects(parts, "file__qc_reports__answers")
    return [
        *([] if parts else ["There is no recording."]),
        *missing_signatures(interview),
        *(sentence for part in parts for sentence in _not_acceptable(part)),
    ]


def worth_knowing(interview: Interview) -> list[str]:
    """What stands in the way of nothing and should not be overlooked: parts that hold the same recording."""
    first: dict[str, int | None] = {}
    told = []
    for part in parts_of(interview):
        digest = part.file.sha256 if part.file else f"not stored: {part.pk}"
        if digest in first:
            told.append(f"Part {part.position} is the same recording as part {first[digest]}.")
        first.setdefault(digest, part.position)
    return told


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
    return _not_staff(actor)


def _not_arrived(part: Part) -> list[str]:
    told = {
        UploadState.RECEIVING: "has not finished arriving",
        UploadState.RECEIVED: "is being compared with the file on your computer",
        UploadState.DAMAGED: "arrived damaged: take it out and hand it in again",
    }
    state = UploadState(part.upload.state)
    return [f"Part {part.position}, “{part.upload.name}”, {told[state]}."] if state in told else []


def _not_acceptable(part: Part) -> list[str]:
    if part.file is None:
        return _not_arrived(part)
    missing = [] if is_safe(part.file) else [f"Part {part.position} is not yet kept in two copies that match."]
    report = latest_report(part.file)
    if report is None:
        return [*missing, f"Part {part.position} is not yet measured."]
    return missing + [f"Part {part.position}: “{finding['title']}” is not answered." for finding in unanswered(report)]


def _decide(interview: Interview, *, verdict: Verdict, message: str, actor: User, template: str) -> None:
    """Keep a decision that the volunteer has to hear of, and write to them."""
    decision = record_decision(interview, verdict=verdict, message=message, actor=actor)
    mail.write(
        key=f"decision-{decision.pk}",
        to=interview.owner.email,
        template=template,
        context={
            "interview": interview,
            "message": message,
            "actor": actor,
            "url": site_url("portal:interview-detail", interview.pk),
        },
    )
