"""What the desk's pages show, gathered from several apps."""

from dataclasses import dataclass
from typing import Any

from django.core.paginator import Page, Paginator
from django.db.models import Count, QuerySet
from django.urls import reverse

from intake.accounts.models import User
from intake.audit.models import Event
from intake.audit.services import story_of
from intake.figures import size
from intake.files import room
from intake.interviews.lifecycle import MOVES
from intake.interviews.models import Interview, Participant, State
from intake.kits.models import Kit
from intake.outputs.models import Output, OutputKind
from intake.outputs.services import receipt_of
from intake.releases.models import Release
from intake.releases.services import missing_signatures, restriction_of, signers_of, standing
from intake.review.services import channel_of
from intake.web.journey import Journey, NextStep, journey_of
from intake.web.parts import PartRow, part_rows
from intake.workflow import missing_before_acceptance, worth_knowing

PER_PAGE = 50


@dataclass(frozen=True)
class Check:
    """One line of the acceptance checklist."""

    done: bool
    text: str
    url: str = ""


@dataclass(frozen=True)
class Problem:
    """A finding that must be answered, with its answer so far."""

    finding: dict[str, Any]
    channel: str
    answer: str
    answered_by: str


@dataclass(frozen=True)
class ReviewPart:
    row: PartRow
    problems: list[Problem]


@dataclass(frozen=True)
class Signer:
    """Somebody who has to sign, the release if it is signed, and whether its copy has been made."""

    participant: Participant
    release: Release | None
    has_copy: bool


@dataclass(frozen=True)
class ReviewPage:
    """Everything on the review page of one interview."""

    interview: Interview
    journey: Journey | None
    step: NextStep
    parts: list[ReviewPart]
    signers: list[Signer]
    restriction: str
    checklist: list[Check]
    worth_knowing: list[str]
    may_decide: bool
    may_accept: bool
    accession: Any
    receipt: Output | None
    events: QuerySet[Event]

    @property
    def can_withdraw(self) -> bool:
        return State.WITHDRAWN in MOVES[State(self.interview.state)]

    @property
    def is_open(self) -> bool:
        """Whether a decision is still to come."""
        return self.interview.state in {State.SUBMITTED, State.IN_REVIEW, State.RETURNED}

    @property
    def is_pending(self) -> bool:
        return any(part.row.is_pending for part in self.parts)


# The queue's ready-made views, in the order of the day's work.
VIEWS = (
    (State.SUBMITTED, "Waiting for review"),
    (State.IN_REVIEW, "In review"),
    (State.RETURNED, "With the volunteers again"),
    (State.ACCEPTED, "Catalogue queue"),
)


@dataclass(frozen=True)
class QueueView:
    """One ready-made view of the queue and how many interviews are in it."""

    state: str
    label: str
    count: int


def queue_views() -> list[QueueView]:
    counted = dict(Interview.objects.order_by().values_list("state").annotate(Count("pk")))
    return [QueueView(state, label, counted.get(state, 0)) for state, label in VIEWS]


def little_room() -> str:
    """The desk's warning that the disks are filling up, with the figures; empty while there is room."""
    if not room.is_low():
        return ""
    disks = [
        f"{' and '.join(disk.places)}: {size(disk.free_bytes)} free, {size(disk.spoken_for_bytes)} of it spoken for"
        for disk in room.disks()
    ]
    return (
        f"There is room for {size(room.room_bytes())} of new recordings; volunteers are told to wait. "
        f"{'; '.join(disks)}. Make room, or put a store on another disk."
    )


def queue_page(filters: dict[str, Any], number: str | None) -> Page:
    """Interviews for the queue, the longest waiting first.

    Drafts are the volunteers' own until handed in, unless asked for.
    """
    interviews = Interview.objects.select_related("collection", "owner", "reviewer").prefetch_related(
        "participants__person"
    )
    if filters.get("state"):
        interviews = interviews.filter(state=filters["state"])
    else:
        interviews = interviews.filter(state__in=[State.SUBMITTED, State.IN_REVIEW, State.RETURNED, State.ACCEPTED])
    if filters.get("collection"):
        interviews = interviews.filter(collection=filters["collection"])
    return Paginator(interviews.order_by("submitted_at", "pk"), PER_PAGE).get_page(number)


def review_page(interview: Interview, user: User) -> ReviewPage:
    rows = part_rows(interview, listen="desk:part-listen", user=user)
    missing = missing_before_acceptance(interview)
    restriction = restriction_of(interview)
    may_decide = interview.state == State.IN_REVIEW and interview.reviewer_id == user.pk
    return ReviewPage(
        interview=interview,
        journey=journey_of(interview, missing_signatures(interview)),
        step=_next_step(interview, missing, may_decide),
        parts=[ReviewPart(row, _problems(row)) for row in rows],
        signers=_signers(interview),
        restriction=restriction.sentence()
        if restriction
        else "Nobody has signed yet: only staff and the volunteer may hear it.",
        checklist=[Check(False, sentence) for sentence in missing]
        or [Check(True, "Everything that must hold before acceptance holds.")],
        worth_knowing=worth_knowing(interview),
        may_decide=may_decide,
        may_accept=may_decide and not missing,
        accession=getattr(interview, "accession", None),
        receipt=receipt_of(interview),
        events=story_of(interview),
    )


def kits_on_shelf_and_out() -> list[Kit]:
    """Every kit with its open loan, if it is out, as `kit.open_loans`."""
    kits = list(Kit.objects.prefetch_related("loans__borrower"))
    for kit in kits:
        kit.open_loans = [loan for loan in kit.loans.all() if loan.returned_at is None]  # type: ignore[attr-defined]
    return kits


def _signers(interview: Interview) -> list[Signer]:
    made = Output.objects.filter(kind=OutputKind.RELEASE_COPY, interview=interview)
    copies = set(made.values_list("subject_id", flat=True))
    signers = []
    for participant in signers_of(interview):
        release = standing(participant)
        signers.append(Signer(participant, release, has_copy=release is not None and str(release.pk) in copies))
    return signers


def _problems(row: PartRow) -> list[Problem]:
    if row.report is None:
        return []
    answers = {(answer.code, answer.channel): answer for answer in row.report.answers.all()}
    return [
        _problem(finding, answers.get((finding["code"], channel_of(finding))))
        for finding in row.findings
        if finding["standing"] == "problem"
    ]


def _problem(finding: dict[str, Any], answer: Any) -> Problem:
    told, by = (answer.answer, answer.answered_by.name) if answer else ("", "")
    return Problem(finding, channel_of(finding), told, by)


def _next_step(interview: Interview, missing: list[str], may_decide: bool) -> NextStep:
    if interview.state == State.SUBMITTED:
        return NextStep(
            "This interview waits for a reviewer.",
            "",
            "Take up the review",
            reverse("desk:interview-take-up", args=[interview.pk]),
            "post",
        )
    if interview.state == State.IN_REVIEW and not may_decide:
        return NextStep(f"{interview.reviewer} is reviewing this interview.")
    if may_decide and missing:
        return NextStep(
            "Listen, answer the problems, and see what is still missing.", "", "See what is missing", "#checklist"
        )
    if may_decide:
        return NextStep(
            "Everything that must hold holds.",
            "",
            "Accept the interview",
            reverse("desk:interview-accept", args=[interview.pk]),
            "post",
        )
    return {
        State.DRAFT: NextStep("The volunteer has not handed this interview in yet."),
        State.RETURNED: NextStep("The volunteer has it back, with your message."),
        State.ACCEPTED: NextStep("Accepted. It waits in the catalogue queue to be described."),
        State.DECLINED: NextStep("Declined. What was handed in is kept."),
        State.WITHDRAWN: NextStep("Withdrawn. What was handed in is kept."),
    }[State(interview.state)]
