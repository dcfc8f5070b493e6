"""Everything on the review page of one interview, gathered from several apps."""

from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet
from django.urls import reverse
from django.utils import timezone

from intake.access.policy import Act, Audience, may
from intake.access.services import terms_of, who_may_hear
from intake.accounts.models import Role, User
from intake.audit.models import Event
from intake.audit.services import story_of
from intake.catalogue.services import DESCRIBABLE
from intake.desk.listening import ListeningDesk, listening_desk
from intake.interviews.attachments import attachments_of
from intake.interviews.lifecycle import MOVES, WITH_THE_VOLUNTEER
from intake.interviews.models import Interview, Participant, State
from intake.mail import services as mail
from intake.mail.models import Message
from intake.outputs.copies import described_id
from intake.outputs.models import OF_A_PART, LetterKind, Output, OutputKind
from intake.outputs.services import ArrivalPaper, arrival_papers, receipt_of
from intake.readiness import Gap, gaps_before_acceptance, worth_knowing
from intake.register import clearing
from intake.register.clearing import Clearing
from intake.register.models import Accession
from intake.register.services import standing as standing_accession
from intake.releases.models import NarratorsTurn, Release, SignedForm, Wish, WithdrawalRequest
from intake.releases.restrictions import chosen, is_closed
from intake.releases.services import (
    form_in_hand,
    missing_signatures,
    signers_of,
    standing,
)
from intake.releases.turns import turns_of, wishes_of
from intake.releases.withdrawals import pending
from intake.review.models import FindingAnswer
from intake.review.services import channel_of
from intake.web.copies import CopiesBlock, copies_of
from intake.web.handed_in import FileRow, file_rows
from intake.web.journey import Journey, NextStep, journey_of
from intake.web.parts import PartRow, part_rows
from intake.workflow import cannot_review, is_stuck, to_be_told_otherwise

ACCEPTED = "Accepted. It waits in the catalogue queue to be described."


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
    answer: FindingAnswer | None


@dataclass(frozen=True)
class ReviewPart:
    row: PartRow
    problems: list[Problem]
    copies: CopiesBlock | None
    has_working_copy: bool
    has_described_copy: bool


@dataclass(frozen=True)
class Signer:
    """Somebody who has to sign, the release if it is signed, whether its copy has been made, and their paper form."""

    participant: Participant
    release: Release | None
    has_copy: bool
    form: SignedForm | None

    @property
    def waits_for_event(self) -> bool:
        """Whether it is still closed until something happens, which staff record."""
        return bool(self.release and self.release.closed_event and is_closed(self.release, on=timezone.localdate()))

    @property
    def chosen(self) -> str:
        """What this signer chose, whether or not the others have signed."""
        return chosen(self.release).sentence() if self.release else ""


@dataclass(frozen=True)
class AccessRow:
    """What one audience may do with the interview today."""

    audience: Audience
    see: bool
    hear: bool
    take: bool
    keep: bool


@dataclass(frozen=True)
class ReviewPage:
    """Everything on the review page of one interview."""

    interview: Interview
    journey: Journey | None
    step: NextStep
    parts: list[ReviewPart]
    desk: ListeningDesk | None
    attachments: list[FileRow]
    signers: list[Signer]
    restriction: str
    turns: list[tuple[NarratorsTurn, list[Wish]]]
    access: list[AccessRow]
    asked: WithdrawalRequest | None
    checklist: list[Check]
    worth_knowing: list[str]
    may_decide: bool
    may_accept: bool
    may_hand_over: bool
    accession: Accession | None
    undone: list[Accession]
    told_otherwise: str
    receipt: Output | None
    arrivals: list[ArrivalPaper]
    clearing: Clearing
    troubled: QuerySet[Message]
    events: QuerySet[Event]

    @property
    def answer_kinds(self) -> list[tuple[str, str]]:
        return [(kind.value, str(kind.label)) for kind in FindingAnswer.Kind]

    @property
    def is_describable(self) -> bool:
        return self.interview.state in DESCRIBABLE

    @property
    def can_withdraw(self) -> bool:
        return State.WITHDRAWN in MOVES[State(self.interview.state)]

    @property
    def is_open(self) -> bool:
        """Whether a decision is still to come."""
        return self.interview.state in {State.SUBMITTED, State.IN_REVIEW, State.RETURNED}

    @property
    def is_pending(self) -> bool:
        return any(part.row.is_pending for part in self.parts) or any(row.is_pending for row in self.attachments)


def review_page(interview: Interview, user: User) -> ReviewPage:
    rows = part_rows(interview, listen="desk:part-listen", user=user, drawn=False)
    gaps = gaps_before_acceptance(interview)
    is_mine = interview.state == State.IN_REVIEW and interview.reviewer_id == user.pk
    may_decide = is_mine and not cannot_review(interview, user)
    return ReviewPage(
        interview=interview,
        journey=journey_of(interview, missing_signatures(interview)),
        step=_next_step(interview, gaps, user, may_decide=may_decide),
        parts=_review_parts(interview, rows),
        desk=listening_desk(interview, rows, user),
        attachments=file_rows(attachments_of(interview)),
        signers=_signers(interview),
        restriction=who_may_hear(interview),
        turns=[(turn, wishes_of(turn)) for turn in turns_of(interview)],
        access=_access(interview),
        asked=pending(interview),
        checklist=[Check(False, gap.sentence, f"#{gap.place}") for gap in gaps]
        or [Check(True, "Everything that must hold before acceptance holds.")],
        worth_knowing=worth_knowing(interview),
        may_decide=may_decide,
        may_accept=may_decide and not gaps,
        may_hand_over=interview.state == State.IN_REVIEW and user.role == Role.COORDINATOR,
        accession=standing_accession(interview),
        undone=list(
            interview.accessions.filter(undone_at__isnull=False).select_related("undone_by", "undo_proposed_by")
        ),
        told_otherwise=to_be_told_otherwise(interview),
        receipt=receipt_of(interview),
        arrivals=arrival_papers(interview),
        clearing=clearing.of_parts(interview, [row.part for row in rows]),
        troubled=mail.troubled(interview),
        events=story_of(interview),
    )


def _access(interview: Interview) -> list[AccessRow]:
    """The policy's own answers for today, so that the page can say nothing else."""
    terms = terms_of(interview)
    return [AccessRow(audience, *(may(audience, act, terms).allowed for act in Act)) for audience in Audience]


def _review_parts(interview: Interview, rows: list[PartRow]) -> list[ReviewPart]:
    copies = copies_of([row.part.file for row in rows if row.part.file])
    accession = standing_accession(interview)
    made = set(interview.outputs.filter(kind__in=OF_A_PART).values_list("kind", "subject_id"))

    def review_part(row: PartRow) -> ReviewPart:
        part = row.part
        described = described_id(accession, part) if accession else ""
        return ReviewPart(
            row,
            _problems(row),
            copies.get(part.file_id),
            has_working_copy=(OutputKind.WORKING_COPY, str(part.pk)) in made,
            has_described_copy=(OutputKind.DESCRIBED_COPY, described) in made,
        )

    return [review_part(row) for row in rows]


def _signers(interview: Interview) -> list[Signer]:
    made = Output.objects.filter(kind=OutputKind.RELEASE_COPY, interview=interview)
    copies = set(made.values_list("subject_id", flat=True))
    signers = []
    for participant in signers_of(interview):
        release = standing(participant)
        has_copy = release is not None and str(release.pk) in copies
        signers.append(Signer(participant, release, has_copy=has_copy, form=form_in_hand(participant)))
    return signers


def _problems(row: PartRow) -> list[Problem]:
    if row.report is None:
        return []
    answers = {(answer.code, answer.channel): answer for answer in row.report.answers.all()}
    return [
        Problem(finding, channel_of(finding), answers.get((finding["code"], channel_of(finding))))
        for finding in row.findings
        if finding["standing"] == "problem"
    ]


def _next_step(interview: Interview, gaps: list[Gap], user: User, *, may_decide: bool) -> NextStep:
    is_own = cannot_review(interview, user)
    if is_own and interview.state in {State.SUBMITTED, State.IN_REVIEW}:
        return NextStep(is_own[0], "another member of staff")
    if is_stuck(interview):
        return NextStep(
            f"{interview.reviewer} cannot go on with this review.",
            "",
            "Take over the review",
            reverse("desk:interview-take-over", args=[interview.pk]),
            "post",
        )
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
    if may_decide and gaps:
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
    if interview.state in WITH_THE_VOLUNTEER and interview.owner.is_archivist:
        page = reverse("portal:interview-detail", args=[interview.pk])
        return NextStep(f"{interview.owner} looks after it and has not handed it in.", "", "Go on with it", page)
    described = reverse("desk:description", args=[interview.pk])
    if _is_to_be_thanked_for(interview):
        page = reverse("desk:interview-papers", args=[interview.pk])
        return NextStep(ACCEPTED, "", "Thank the narrator by letter", page)
    return {
        State.DRAFT: NextStep("The volunteer has not handed this interview in yet."),
        State.RETURNED: NextStep("The volunteer has it back, with your message."),
        State.ACCEPTED: NextStep(ACCEPTED, "", "Describe it", described),
        State.CATALOGUED: NextStep("Catalogued.", "", "See the record", described),
        State.DECLINED: NextStep("Declined. What was handed in is kept."),
        State.WITHDRAWN: NextStep("Withdrawn. What was handed in is kept, and nobody hears it."),
        State.TAKEN_DOWN: NextStep("Taken down. What was accepted is kept, and nobody hears it."),
    }[State(interview.state)]


def _is_to_be_thanked_for(interview: Interview) -> bool:
    """Accepted, nobody wishes it withdrawn, and nobody was thanked yet."""
    if interview.state != State.ACCEPTED or pending(interview):
        return False
    return not interview.letters.filter(kind=LetterKind.THANKS).exists()
