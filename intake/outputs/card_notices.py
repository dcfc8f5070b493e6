"""Tell the volunteer once that the card may be cleared, and ask to keep it should a recording be lost after that."""

from django.db import transaction
from django.utils import timezone

from intake.audit.actions import Action
from intake.audit.models import Outcome
from intake.audit.services import record
from intake.codes import digest_of
from intake.files.incidents import is_lost
from intake.interviews import lifecycle
from intake.interviews.models import Interview
from intake.interviews.services import correspondents_of
from intake.mail import services as mail
from intake.outputs.services import site_url
from intake.register import clearing
from intake.register.arrivals import latest_arrival
from intake.register.models import CardNotice


@transaction.atomic
def tell(interview_id: int) -> CardNotice | None:
    """Write what there is to say about an interview's recordings now; None if that has been said.

    Nothing is said before the interview is handed in: until then its page says it, and more parts may come. What staff
    hand in for somebody, or take in from a folder, comes from no card of a volunteer's: its page says it to them.
    """
    interview = lifecycle.locked(interview_id)
    if interview.submitted_at is None or interview.owner.is_archivist:
        return None
    now = clearing.of_interview(interview)
    last = CardNotice.objects.filter(interview=interview, withdrawn_at=None).last()
    if now.may_be_cleared:
        told = last.digests if last else set()
        return None if {file.sha256 for file in now.files} <= told else _say_it_may(interview, now)
    # One bad copy is restored within minutes and costs nobody any sleep; a file without a good one needs the card.
    lost = [file.name for file in now.files if is_lost(file)]
    return _take_it_back(interview, last, lost) if last and lost else None


def _say_it_may(interview: Interview, now: clearing.Clearing) -> CardNotice:
    files = [{"name": file.name, "bytes": file.bytes, "sha256": file.sha256} for file in now.files]
    notice = CardNotice.objects.create(interview=interview, files=files)
    record(
        actor=None,
        action=Action.CARD_MAY_BE_CLEARED,
        subject=interview,
        names={"files": ", ".join(file.name for file in now.files)},
        sha256=sorted(notice.digests),
    )
    if not _arrival_says_so(interview, notice):
        for name, address, may_open in correspondents_of(interview):
            mail.write(
                key=f"card-{notice.pk}-{digest_of(address)[:16]}",
                to=address,
                template="card_may_be_cleared",
                thread=interview,
                context={"interview": interview, "name": name, "files": files, "url": _url(interview, may_open)},
            )
    return notice


def _arrival_says_so(interview: Interview, notice: CardNotice) -> bool:
    """Whether the letter with the arrival receipt has told the same of the same files."""
    arrival = latest_arrival(interview)
    if arrival is None or not arrival.snapshot["may_be_cleared"]:
        return False
    return notice.digests <= {file["sha256"] for file in arrival.snapshot["files"]}


def _take_it_back(interview: Interview, last: CardNotice, lost: list[str]) -> CardNotice:
    last.withdrawn_at = timezone.now()
    last.save(update_fields=["withdrawn_at"])
    record(
        actor=None,
        action=Action.CARD_NOTICE_WITHDRAWN,
        subject=interview,
        outcome=Outcome.FAILURE,
        names={"files": ", ".join(lost)},
    )
    for name, address, may_open in correspondents_of(interview):
        mail.write(
            key=f"card-kept-{last.pk}-{digest_of(address)[:16]}",
            to=address,
            template="card_keep",
            thread=interview,
            context={"interview": interview, "name": name, "lost": lost, "url": _url(interview, may_open)},
        )
    return last


def _url(interview: Interview, may_open: bool) -> str:
    return site_url("portal:interview-detail", interview.pk) if may_open else ""
