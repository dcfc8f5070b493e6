"""Who hears of a move, by e-mail and on paper; written in the transaction of the move."""

from intake.accounts.services import coordinators
from intake.codes import digest_of
from intake.interviews.models import Interview
from intake.interviews.services import correspondents_of, patrons_of
from intake.mail import services as mail
from intake.outputs.letters import begun, kind_for, write_letter
from intake.outputs.services import check_url, site_url
from intake.register import services as register
from intake.register.models import Accession
from intake.releases.models import WithdrawalRequest
from intake.review.models import Decision


def of_decision(interview: Interview, decision: Decision, *, template: str) -> None:
    """A review's decision, to everybody who has to hear of it: by e-mail, and to the giver on paper."""
    page = site_url("portal:interview-detail", interview.pk)
    for name, address, may_open in correspondents_of(interview):
        mail.write(
            key=f"decision-{decision.pk}-{digest_of(address)[:16]}",
            to=address,
            template=template,
            thread=interview,
            context={
                "interview": interview,
                "name": name,
                "message": decision.message,
                "actor": decision.reviewer,
                "url": page if may_open else "",
            },
        )
    _on_paper(interview, decision)


def of_undoing(interview: Interview, accession: Accession) -> None:
    """Whoever may hold the receipt hears that its acceptance does not stand any more."""
    for name, address in patrons_of(interview):
        mail.write(
            key=f"undone-{accession.pk}-{digest_of(address)[:16]}",
            to=address,
            template="acceptance_undone",
            thread=interview,
            context={"name": name, "accession": accession, "url": check_url(accession.receipt_number)},
        )


def of_request(interview: Interview, request: WithdrawalRequest) -> None:
    """Somebody wishes an accepted interview withdrawn: the coordinators decide."""
    for coordinator in coordinators():
        mail.write(
            key=f"withdrawal-asked-{request.pk}-{coordinator.pk}",
            to=coordinator.email,
            template="withdrawal_asked",
            thread=interview,
            context={
                "name": coordinator.name,
                "accession": register.standing(interview),
                "url": site_url("desk:interview-withdrawal", interview.pk),
            },
        )


def of_withdrawal(interview: Interview, request: WithdrawalRequest) -> None:
    """Whoever gave the interview and whoever looks after it hear what was decided, and why."""
    page = site_url("portal:interview-detail", interview.pk)
    for name, address, may_open in correspondents_of(interview):
        mail.write(
            key=f"withdrawal-decided-{request.pk}-{digest_of(address)[:16]}",
            to=address,
            template="withdrawal_decided",
            thread=interview,
            context={
                "name": name,
                "accession": register.standing(interview),
                "request": request,
                "url": page if may_open else "",
            },
        )


def _on_paper(interview: Interview, decision: Decision) -> None:
    """The same as a letter to the giver, to hand over or to post; in the language in which the reviewer writes."""
    kind = kind_for(interview)
    assert kind is not None, "an interview that was sent back or declined has its kind of letter"
    giver, writer = interview.given_by, decision.reviewer
    text = begun(kind, giver, interview, language="en", sender=writer, message=decision.message)
    write_letter(interview.pk, kind=kind, person=giver, language="en", text=text, by_email=False, actor=writer)
