"""May the recorder's card be cleared? One rule for each file (qc.services.may_be_cleared), asked of more at once.

Of an interview: of all its recordings. Of a loan: of all that its borrower handed in since, and of what is still open.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Q, prefetch_related_objects
from django.utils import formats

from intake.files.incidents import is_lost
from intake.files.models import StoredFile, UploadState
from intake.files.services import is_safe
from intake.interviews.models import Interview, Part, State
from intake.interviews.services import parts_of
from intake.kits.models import Loan
from intake.qc.services import latest_report, may_be_cleared

NOTHING = "Nothing has been handed in."
NOT_KEPT_HERE = {State.WITHDRAWN, State.DECLINED}
NOT_ARRIVED = {
    UploadState.RECEIVING: "has not come in whole yet",
    UploadState.RECEIVED: "is still being compared",
    UploadState.DAMAGED: "arrived damaged, so the card holds the only good one",
}


@dataclass(frozen=True)
class Clearing:
    """The recordings in question, and why the card may not be cleared: whole sentences, none if it may."""

    files: tuple[StoredFile, ...]
    reasons: tuple[str, ...]

    @property
    def may_be_cleared(self) -> bool:
        return bool(self.files) and not self.reasons

    @property
    def in_words(self) -> str:
        """The answer as it is kept with a loan. It names no narrator."""
        if self.may_be_cleared:
            count = len(self.files)
            kept = "1 file, kept twice" if count == 1 else f"{count} files, all kept twice"
            return f"{kept}: the card may be cleared."
        return " ".join(["Do not clear the card.", *self.reasons])


def of_interview(interview: Interview) -> Clearing:
    return of_parts(interview, parts_of(interview))


def of_parts(interview: Interview, parts: Sequence[Part]) -> Clearing:
    """Of these parts of an interview, as `parts_of` gives them."""
    if not parts:
        return Clearing((), (NOTHING,))
    prefetch_related_objects(list(parts), "file__qc_reports")
    reasons = [f"Part {part.position} {told}." for part in parts if (told := _why_not(part))]
    if interview.state in NOT_KEPT_HERE:
        reasons.append(f"The interview was {interview.get_state_display().lower()}: ask the library first.")
    return Clearing(tuple(part.file for part in parts if part.file), tuple(reasons))


def of_loan(loan: Loan) -> Clearing:
    """Of everything that came in from the borrower during the loan, and of what is open from before."""
    files: list[StoredFile] = []
    reasons: list[str] = []
    for interview in _interviews_of(loan):
        parts = [part for part in parts_of(interview) if _is_of(loan, part) or _why_not(part)]
        if not parts:
            continue
        found = of_parts(interview, parts)
        files += found.files
        day = formats.date_format(interview.recorded_on)
        reasons += [f"Interview of {day}: {reason[0].lower()}{reason[1:]}" for reason in found.reasons]
    return Clearing(tuple(files), tuple(reasons)) if files or reasons else Clearing((), (NOTHING,))


def _interviews_of(loan: Loan) -> list[Interview]:
    theirs = Q(given_by=loan.borrower)
    if loan.borrower.user_id:
        theirs |= Q(owner=loan.borrower.user_id)
    return list(Interview.objects.filter(theirs).order_by("recorded_on", "pk"))


def _is_of(loan: Loan, part: Part) -> bool:
    """Whether it began to come in while the kit was out."""
    return part.upload.started_at >= loan.lent_at and (
        loan.returned_at is None or part.upload.started_at <= loan.returned_at
    )


def _why_not(part: Part) -> str:
    """Why the card must still hold this part, as the end of a sentence; "" if it need not."""
    if part.file is None:
        return NOT_ARRIVED.get(UploadState(part.upload.state), "is not stored")
    if may_be_cleared(part.file):
        return ""
    report = latest_report(part.file)
    if is_lost(part.file):
        return "has no good copy left in the library, so the card may hold the only one"
    if not is_safe(part.file):
        return "is not kept in two good copies just now"
    if report is None:
        return "has not been looked at yet, so it may not be whole"
    if report.is_doubtful:
        return "may not be whole, so the card may hold more of it"
    return "was not compared with the file on the volunteer's computer"
