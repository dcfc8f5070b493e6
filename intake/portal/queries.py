"""What the volunteer's pages show, gathered from several apps."""

from dataclasses import dataclass
from typing import Any

from django.urls import reverse

from intake.access.services import who_may_hear
from intake.accounts.models import User
from intake.interviews.attachments import attachments_of
from intake.interviews.lifecycle import MOVES, WITH_THE_VOLUNTEER
from intake.interviews.models import Attachment, Interview, Part, Participant, State
from intake.interviews.services import taken_out
from intake.outputs.models import Output
from intake.outputs.services import ArrivalPaper, arrival_papers, receipt_of
from intake.qc.sequence import recorders_order
from intake.readiness import missing_before_submission, worth_knowing
from intake.register import clearing
from intake.register.clearing import Clearing
from intake.releases.links import link_of
from intake.releases.models import Agreement, FormState, Moment, PrintedForm, PrivateLink, Purpose, Release, SignedForm
from intake.releases.paper_forms import missing_before_hand_in, scans_of
from intake.releases.services import SIGNABLE, form_in_hand, missing_signatures, signers_of, standing
from intake.web.handed_in import FileRow, file_rows
from intake.web.journey import Journey, NextStep, journey_of
from intake.web.parts import PartRow, part_rows
from intake.workflow import to_be_told_otherwise


@dataclass(frozen=True)
class PersonRow:
    """Somebody who takes part; `is_own` for the volunteer's own row, whose copy of the release is theirs to read."""

    participant: Participant
    release: Release | None
    form: SignedForm | None
    is_own: bool
    agreement: Agreement | None
    agreement_form: SignedForm | None
    links: list[PrivateLink]
    must_sign: bool

    @property
    def takes_part_first(self) -> bool:
        """Whether they are asked before the recording whether they agree to it."""
        return self.participant.role in {Participant.Role.NARRATOR, Participant.Role.GUARDIAN}

    @property
    def waits_for_staff(self) -> bool:
        """Whether a form signed on paper waits to be confirmed."""
        return self.form is not None and self.form.state == FormState.WAITING


@dataclass(frozen=True)
class AttachmentsBlock:
    """The attachments on an interview's page."""

    interview: Interview
    rows: list[FileRow]
    taken_out: list[Attachment]
    is_editable: bool

    @property
    def is_pending(self) -> bool:
        return any(row.is_pending for row in self.rows)


@dataclass(frozen=True)
class ScansBlock:
    """The scans of a signed form, on the page where it is handed in."""

    signed: SignedForm
    rows: list[FileRow]
    is_open: bool
    missing: list[str]

    @property
    def is_pending(self) -> bool:
        return any(row.is_pending for row in self.rows)


@dataclass(frozen=True)
class PaperPage:
    """Signing on paper, for one person: the form to print, the signed form as far as it has come, and what stands."""

    participant: Participant
    form: PrintedForm | None
    signed: SignedForm | None
    scans: ScansBlock | None
    stands: Release | Agreement | None
    can_sign: bool
    moment: Moment

    @property
    def is_agreement(self) -> bool:
        return self.moment == Moment.AGREEMENT

    @property
    def may_type(self) -> bool:
        """Whether what is ticked may be typed in: a form was printed, and none waits or stands."""
        waits = self.signed is not None and self.signed.state == FormState.WAITING
        return self.can_sign and self.form is not None and self.stands is None and not waits

    @property
    def is_open(self) -> bool:
        return self.scans is not None and self.scans.is_open


@dataclass(frozen=True)
class InterviewPage:
    """Everything on an interview's page."""

    interview: Interview
    is_editable: bool
    journey: Journey | None
    step: NextStep
    missing: list[str]
    worth_knowing: list[str]
    people: list[PersonRow]
    rows: list[PartRow]
    taken_out: list[Part]
    attachments: AttachmentsBlock
    restriction: str
    message: str
    told_otherwise: str
    receipt: Output | None
    arrivals: list[ArrivalPaper]
    clearing: Clearing

    @property
    def total_seconds(self) -> float:
        """The length of all recordings together; 0 until all are measured."""
        return sum(row.seconds or 0 for row in self.rows) if all(row.seconds for row in self.rows) else 0

    @property
    def recorders_order(self) -> list[int] | None:
        """The parts in the recorder's own order, where that is another one."""
        return recorders_order([row.part for row in self.rows])

    @property
    def can_sign(self) -> bool:
        return self.interview.state in SIGNABLE

    @property
    def can_withdraw(self) -> bool:
        return State.WITHDRAWN in MOVES[State(self.interview.state)]

    @property
    def is_pending(self) -> bool:
        return any(row.is_pending for row in self.rows)

    @property
    def is_safe_to_erase(self) -> bool:
        """Whether the recordings named on this page may be cleared from the card."""
        return self.clearing.may_be_cleared

    @property
    def doubtful(self) -> list[PartRow]:
        return [row for row in self.rows if row.is_doubtful]


def interview_page(interview: Interview, user: User) -> InterviewPage:
    rows = part_rows(interview, listen="portal:part-listen", user=user, drawn=False)
    missing = missing_before_submission(interview)
    unsigned = missing_signatures(interview)
    people = [
        PersonRow(
            participant,
            standing(participant),
            form_in_hand(participant),
            participant.person.user_id == interview.owner_id,
            next(iter(participant.agreements.all()), None),
            form_in_hand(participant, Moment.AGREEMENT),
            [link for moment in Moment if (link := link_of(participant, Purpose.SIGN, moment))],
            not participant.needs_guardian,
        )
        for participant in signers_of(interview)
    ]
    decision = interview.decisions.last()
    return InterviewPage(
        interview=interview,
        is_editable=interview.state in WITH_THE_VOLUNTEER,
        journey=journey_of(interview, [*unsigned, *_measuring(rows)]),
        step=_next_step(interview, missing, people, rows),
        missing=missing,
        worth_knowing=worth_knowing(interview),
        people=people,
        rows=rows,
        taken_out=taken_out(interview),
        attachments=attachments_block(interview),
        restriction=who_may_hear(interview),
        message=decision.message if decision and interview.state in {State.RETURNED, State.DECLINED} else "",
        told_otherwise=to_be_told_otherwise(interview),
        receipt=receipt_of(interview),
        arrivals=arrival_papers(interview),
        clearing=clearing.of_parts(interview, [row.part for row in rows]),
    )


def attachments_block(interview: Interview) -> AttachmentsBlock:
    """The attachments of an interview, for the page and for refreshing in place."""
    return AttachmentsBlock(
        interview=interview,
        rows=file_rows(attachments_of(interview)),
        taken_out=list(
            interview.attachments.exclude(taken_out_at=None).filter(file__isnull=False).select_related("upload")
        ),
        is_editable=interview.state in WITH_THE_VOLUNTEER,
    )


def paper_page(participant: Participant, moment: str) -> PaperPage:
    signed = form_in_hand(participant, moment)
    return PaperPage(
        participant=participant,
        form=participant.printed_forms.select_related("wording").filter(wording__moment=moment).first(),
        signed=signed,
        scans=scans_block(signed) if signed else None,
        stands=participant.agreements.first() if moment == Moment.AGREEMENT else standing(participant),
        can_sign=participant.interview.state in SIGNABLE,
        moment=Moment(moment),
    )


def scans_block(signed: SignedForm) -> ScansBlock:
    is_open = signed.state == FormState.OPEN
    return ScansBlock(
        signed=signed,
        rows=file_rows(scans_of(signed)),
        is_open=is_open,
        missing=missing_before_hand_in(signed) if is_open else [],
    )


def _measuring(rows: list[PartRow]) -> list[str]:
    pending = sum(row.is_pending for row in rows)
    if not pending:
        return []
    which = "The recording is" if len(rows) == 1 else f"{pending} of {len(rows)} recordings are"
    return [f"{which} still on the way, or being stored, measured or copied."]


def _next_step(interview: Interview, missing: list[str], people: list[PersonRow], rows: list[PartRow]) -> NextStep:
    page = reverse("portal:interview-detail", args=[interview.pk])
    if interview.state in WITH_THE_VOLUNTEER:
        return _step_before_hand_in(interview, page, missing, rows)
    without = [row for row in people if row.release is None and row.must_sign]
    if interview.state in {State.SUBMITTED, State.IN_REVIEW} and without:
        return _step_to_releases(without, page)
    receipt = "Read the receipt", reverse("portal:interview-receipt", args=[interview.pk])
    return {
        State.SUBMITTED: NextStep(
            "Your interview is with the library. You need not do anything now.",
            "the library to listen to it",
        ),
        State.IN_REVIEW: NextStep(
            "An archivist is listening to your interview. You need not do anything now.",
            "the archivist to decide; you will get an e-mail",
        ),
        State.ACCEPTED: NextStep("The library has accepted your interview. Thank you.", "", *receipt),
        State.CATALOGUED: NextStep("Your interview stands in the library's catalogue. Thank you.", "", *receipt),
        State.DECLINED: NextStep("The library could not take this interview in. Please keep your own copy."),
        State.WITHDRAWN: NextStep("This interview was withdrawn. Please keep your own copy."),
        State.TAKEN_DOWN: NextStep("This interview was taken down at the wish of somebody whom it concerns."),
    }[State(interview.state)]


def _step_to_releases(without: list[PersonRow], page: str) -> NextStep:
    """Whoever has signed on paper has nothing more to do: then the library's staff have."""
    still_to_sign = [row.participant.person.name for row in without if not row.waits_for_staff]
    if not still_to_sign:
        return NextStep(
            "Everybody has signed. You need not do anything now.",
            "the library's staff to confirm what was signed on paper",
        )
    waits_for = f"{' and '.join(still_to_sign)} to sign"
    return NextStep("Not everybody has signed yet.", waits_for, "Go to the signatures", f"{page}#people")


def _step_before_hand_in(interview: Interview, page: str, missing: list[str], rows: list[PartRow]) -> NextStep:
    if not missing:
        return NextStep(
            "Everything that is needed is here.",
            "",
            "Hand in the interview",
            reverse("portal:interview-submit", args=[interview.pk]),
            "post",
        )
    return NextStep(missing[0], "", *_where_to_begin(interview, rows, page))


def _where_to_begin(interview: Interview, rows: list[PartRow], page: str) -> tuple[str, str]:
    """The button for what is missing first: its label and address, in the order in which what is missing is told."""
    if not rows:
        return "Add a recording", f"{page}#hand-in"
    if any(row.part.file is None for row in rows):
        return "See the recordings", f"{page}#parts"
    if any(attachment.file is None for attachment in attachments_of(interview)):
        return "See the attachments", f"{page}#attachments"
    if not interview.summary.strip():
        return "Go to the description", reverse("portal:interview-edit", args=[interview.pk])
    return "Add a person", reverse("portal:person-add", args=[interview.pk])


def newest_first(interviews: Any) -> list[Interview]:
    """A volunteer's own interviews for the list, with the people that make up their titles."""
    return list(
        interviews.prefetch_related("participants__person").select_related("collection").order_by("-started_at")
    )
