"""What the desk's pages show, gathered from several apps."""

from dataclasses import dataclass
from typing import Any

from allauth.mfa.models import Authenticator
from django.core.paginator import Page, Paginator
from django.db.models import Case, Count, Exists, Max, OuterRef, Q, QuerySet, Sum, When
from django.urls import reverse

from intake.accounts.models import User
from intake.audit.models import Event
from intake.audit.services import story_of
from intake.backlog.models import BacklogImport, BacklogRow
from intake.figures import size
from intake.files import room
from intake.interviews.attachments import attachments_of
from intake.interviews.lifecycle import MOVES, WITH_THE_VOLUNTEER
from intake.interviews.models import Collection, Interview, Participant, State
from intake.kits.models import Kit, Loan
from intake.mail import services as mail
from intake.mail.models import Message
from intake.outputs.copies import described_id
from intake.outputs.models import OF_A_PART, Output, OutputKind
from intake.outputs.services import ArrivalPaper, arrival_papers, receipt_of
from intake.people.models import Invitation, Person
from intake.register import clearing
from intake.register.clearing import Clearing
from intake.register.models import Accession
from intake.register.services import standing as standing_accession
from intake.releases.models import FormState, Release, SignedForm
from intake.releases.paper_forms import scans_of, why_not_confirm
from intake.releases.services import (
    Restriction,
    form_in_hand,
    missing_signatures,
    signers_of,
    standing,
    who_may_hear,
)
from intake.review.services import channel_of
from intake.web.copies import CopiesBlock, copies_of
from intake.web.handed_in import FileRow, file_rows
from intake.web.journey import Journey, NextStep, journey_of
from intake.web.parts import PartRow, part_rows
from intake.workflow import cannot_review, is_stuck, missing_before_acceptance, to_be_told_otherwise, worth_knowing

PER_PAGE = 50
NEEDS_CARE = "needs-care"


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
    def chosen(self) -> str:
        """What this signer chose, whether or not the others have signed."""
        return Restriction.of([self.release]).sentence() if self.release else ""


@dataclass(frozen=True)
class ReviewPage:
    """Everything on the review page of one interview."""

    interview: Interview
    journey: Journey | None
    step: NextStep
    parts: list[ReviewPart]
    attachments: list[FileRow]
    signers: list[Signer]
    restriction: str
    checklist: list[Check]
    worth_knowing: list[str]
    may_decide: bool
    may_accept: bool
    accession: Accession | None
    undone: list[Accession]
    told_otherwise: str
    receipt: Output | None
    arrivals: list[ArrivalPaper]
    clearing: Clearing
    troubled: QuerySet[Message]
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
        return any(part.row.is_pending for part in self.parts) or any(row.is_pending for row in self.attachments)


@dataclass(frozen=True)
class PersonRecord:
    """All that points to one person, to be looked at before two records are made one."""

    person: Person
    participations: list[Participant]
    given: list[Interview]
    releases: list[Release]
    loans: list[Loan]
    invitations: list[Invitation]


# The queue's ready-made views, in the order of the day's work.
VIEWS = (
    (State.SUBMITTED, "Waiting for review"),
    (State.IN_REVIEW, "In review"),
    (State.RETURNED, "With the volunteers again"),
    (State.ACCEPTED, "Catalogue queue"),
)


_BY_STAGE = Case(*(When(state=state, then=place) for place, (state, _) in enumerate(VIEWS)), default=len(VIEWS))


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
    """Interviews for the queue in the order of the day's work, within a stage the longest waiting first.

    Drafts are the volunteers' own until handed in, unless asked for.
    """
    interviews = Interview.objects.select_related("collection", "given_by", "reviewer").prefetch_related(
        "participants__person"
    )
    if filters.get("state"):
        interviews = interviews.filter(state=filters["state"])
    else:
        interviews = interviews.filter(state__in=[State.SUBMITTED, State.IN_REVIEW, State.RETURNED, State.ACCEPTED])
    if filters.get("collection"):
        interviews = interviews.filter(collection=filters["collection"])
    return Paginator(interviews.order_by(_BY_STAGE, "submitted_at", "pk"), PER_PAGE).get_page(number)


def messages_page(filters: dict[str, Any], number: str | None) -> Page:
    """Messages, the newest first, by state and by words of the address or subject."""
    state, words = filters.get("state"), filters.get("words")
    messages = mail.troubled() if state == NEEDS_CARE else Message.objects.all()
    if state and state != NEEDS_CARE:
        messages = messages.filter(state=state)
    if words:
        messages = messages.filter(Q(to__icontains=words) | Q(subject__icontains=words))
    return Paginator(messages, PER_PAGE).get_page(number)


def review_page(interview: Interview, user: User) -> ReviewPage:
    rows = part_rows(interview, listen="desk:part-listen", user=user, drawn=True)
    missing = missing_before_acceptance(interview)
    is_mine = interview.state == State.IN_REVIEW and interview.reviewer_id == user.pk
    may_decide = is_mine and not cannot_review(interview, user)
    return ReviewPage(
        interview=interview,
        journey=journey_of(interview, missing_signatures(interview)),
        step=_next_step(interview, missing, user, may_decide=may_decide),
        parts=_review_parts(interview, rows),
        attachments=file_rows(attachments_of(interview)),
        signers=_signers(interview),
        restriction=who_may_hear(interview),
        checklist=[Check(False, sentence) for sentence in missing]
        or [Check(True, "Everything that must hold before acceptance holds.")],
        worth_knowing=worth_knowing(interview),
        may_decide=may_decide,
        may_accept=may_decide and not missing,
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


def register_page(number: str | None) -> Page:
    """All accessions, the newest number first; those undone keep their place and say why."""
    accessions = Accession.objects.select_related("accepted_by", "undone_by", "undo_proposed_by")
    return Paginator(accessions.order_by("-year", "-sequence"), PER_PAGE).get_page(number)


def collections() -> QuerySet[Collection]:
    """Every collection, with how many of its interviews are accepted."""
    stands = Q(interviews__accessions__isnull=False, interviews__accessions__undone_at=None)
    return Collection.objects.annotate(accepted=Count("interviews", filter=stands, distinct=True))


def imports() -> QuerySet[BacklogImport]:
    """Imports with how far they came: rows told, interviews made, bytes taken, and when the last row was told."""
    return BacklogImport.objects.select_related("started_by").annotate(
        told=Count("rows"), taken=Count("rows__interview"), bytes=Sum("rows__bytes"), last_at=Max("rows__at")
    )


def import_rows(pk: int, number: str | None) -> Page:
    rows = BacklogRow.objects.filter(taken_by=pk).select_related("interview")
    return Paginator(rows.prefetch_related("interview__participants__person"), PER_PAGE).get_page(number)


def record_of(person: Person) -> PersonRecord:
    return PersonRecord(
        person=person,
        participations=list(
            person.participations.select_related("interview").prefetch_related("interview__participants__person")
        ),
        given=list(person.given.prefetch_related("participants__person")),
        releases=list(Release.objects.filter(participant__person=person).select_related("signed_form").order_by("pk")),
        loans=list(person.loans.select_related("kit")),
        invitations=list(person.invitations.all()),
    )


@dataclass(frozen=True)
class FormPage:
    """A signed form with its scans, and why this person may not confirm it."""

    signed: SignedForm
    rows: list[FileRow]
    release: Release | None
    reasons: list[str]

    @property
    def is_waiting(self) -> bool:
        return self.signed.state == FormState.WAITING


def form_page(signed: SignedForm, user: User) -> FormPage:
    release = Release.objects.filter(signed_form=signed).first()
    return FormPage(signed, file_rows(scans_of(signed)), release, why_not_confirm(signed, user))


def forms_to_confirm() -> int:
    return SignedForm.objects.filter(state=FormState.WAITING).count()


def waiting_forms() -> list[SignedForm]:
    """The signed forms that wait for staff, the longest waiting first."""
    return list(
        SignedForm.objects.filter(state=FormState.WAITING)
        .select_related("form__participant__person", "form__participant__interview", "handed_in_by")
        .prefetch_related("form__participant__interview__participants__person")
        .order_by("handed_in_at", "pk")
    )


def accounts() -> QuerySet[User]:
    """Everybody who can sign in, with `has_second_step`."""
    steps = Authenticator.objects.filter(user=OuterRef("pk"))
    return User.objects.filter(is_active=True).annotate(has_second_step=Exists(steps)).order_by("name")


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
        has_copy = release is not None and str(release.pk) in copies
        signers.append(Signer(participant, release, has_copy=has_copy, form=form_in_hand(participant)))
    return signers


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


def _next_step(interview: Interview, missing: list[str], user: User, *, may_decide: bool) -> NextStep:
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
    if interview.state in WITH_THE_VOLUNTEER and interview.owner.is_archivist:
        page = reverse("portal:interview-detail", args=[interview.pk])
        return NextStep(f"{interview.owner} looks after it and has not handed it in.", "", "Go on with it", page)
    return {
        State.DRAFT: NextStep("The volunteer has not handed this interview in yet."),
        State.RETURNED: NextStep("The volunteer has it back, with your message."),
        State.ACCEPTED: NextStep("Accepted. It waits in the catalogue queue to be described."),
        State.DECLINED: NextStep("Declined. What was handed in is kept."),
        State.WITHDRAWN: NextStep("Withdrawn. What was handed in is kept."),
    }[State(interview.state)]
