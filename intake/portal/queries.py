"""What the volunteer's pages show, gathered from several apps."""

from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.urls import reverse

from intake.accounts.models import User
from intake.figures import size
from intake.files import room
from intake.files.models import UploadState
from intake.interviews.lifecycle import MOVES, WITH_THE_VOLUNTEER
from intake.interviews.models import Interview, Part, Participant, State
from intake.interviews.services import open_bytes_left, parts_of, taken_out
from intake.outputs.models import Output
from intake.outputs.services import receipt_of
from intake.releases.models import Release
from intake.releases.services import SIGNABLE, missing_signatures, restriction_of, signers_of, standing
from intake.web.journey import Journey, NextStep, journey_of
from intake.web.parts import PartRow, part_rows
from intake.workflow import missing_before_submission, worth_knowing


@dataclass(frozen=True)
class PersonRow:
    """Somebody who takes part; `is_own` for the volunteer's own row, whose copy of the release is theirs to read."""

    participant: Participant
    release: Release | None
    is_own: bool


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
    restriction: str
    message: str
    receipt: Output | None

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
        kept = self.interview.state not in {State.WITHDRAWN, State.DECLINED}
        return kept and bool(self.rows) and all(row.may_be_cleared for row in self.rows)

    @property
    def doubtful(self) -> list[PartRow]:
        return [row for row in self.rows if row.is_doubtful]


def interview_page(interview: Interview, user: User) -> InterviewPage:
    rows = part_rows(interview, listen="portal:part-listen", user=user)
    missing = missing_before_submission(interview)
    unsigned = missing_signatures(interview)
    restriction = restriction_of(interview)
    decision = interview.decisions.last()
    return InterviewPage(
        interview=interview,
        is_editable=interview.state in WITH_THE_VOLUNTEER,
        journey=journey_of(interview, [*unsigned, *_measuring(rows)]),
        step=_next_step(interview, missing, unsigned, rows),
        missing=missing,
        worth_knowing=worth_knowing(interview),
        people=[
            PersonRow(participant, standing(participant), participant.person.user_id == interview.owner_id)
            for participant in signers_of(interview)
        ],
        rows=rows,
        taken_out=taken_out(interview),
        restriction=restriction.sentence()
        if restriction
        else "Nobody has signed yet, so only you and the library's staff can hear it.",
        message=decision.message if decision and interview.state in {State.RETURNED, State.DECLINED} else "",
        receipt=receipt_of(interview),
    )


def upload_panel(interview: Interview, user: User) -> dict[str, Any]:
    """What the hand-in panel needs.

    `unfinished` lists what began earlier, and stands in the page under the id `known`.
    """
    return {
        "before_url": reverse("portal:interview-before-upload", args=[interview.pk]),
        "contact": f"{settings.LIBRARY_ROOM} ({settings.LIBRARY_CONTACT})",
        "warning": _little_room(),
        "create_url": reverse("portal:uploads"),
        "refresh_url": reverse("portal:interview-parts", args=[interview.pk]),
        "interview_id": interview.pk,
        "piece_bytes": settings.UPLOAD_PIECE_BYTES,
        "max_bytes": settings.UPLOAD_MAX_BYTES,
        "known": "known-uploads",
        "unfinished": _unfinished(interview, user),
    }


def before_upload(interview: Interview, user: User) -> dict[str, Any]:
    """What is asked when files have been chosen, before the first byte travels. Lengths and room in bytes."""
    whole = [part for part in parts_of(interview) if part.upload.state != UploadState.RECEIVING]
    return {
        "room_bytes": room.room_bytes(),
        "own_bytes_left": open_bytes_left(user),
        "recordings": [
            {"name": part.upload.name, "length": part.upload.length, "position": part.position} for part in whole
        ],
        "unfinished": _unfinished(interview, user),
    }


def _unfinished(interview: Interview, user: User) -> list[dict[str, Any]]:
    own = interview.parts.filter(position__isnull=False, upload__owner=user).select_related("upload")
    return [
        {
            "upload_url": reverse("portal:upload", args=[part.upload_id]),
            "name": part.upload.name,
            "length": part.upload.length,
            "offset": part.upload.offset,
            "digest_known": bool(part.upload.declared_sha256),
        }
        for part in own.filter(upload__state=UploadState.RECEIVING)
    ]


def _little_room() -> str:
    """Said before a hand-in begins, when the library's disk is nearly full."""
    if not room.is_low():
        return ""
    left = room.room_bytes()
    told = f"has room for {size(left)} of recordings just now" if left else "is full, and takes nothing in just now"
    return (
        f"The library's disk {told}. Nothing is lost: keep your recordings where they are, and ask the "
        f"{settings.LIBRARY_ROOM} ({settings.LIBRARY_CONTACT}) before you hand in more."
    )


def _measuring(rows: list[PartRow]) -> list[str]:
    pending = sum(row.is_pending for row in rows)
    return [f"{pending} of {len(rows)} recordings on the way, being stored, measured or copied."] if pending else []


def _next_step(interview: Interview, missing: list[str], unsigned: list[str], rows: list[PartRow]) -> NextStep:
    page = reverse("portal:interview-detail", args=[interview.pk])
    if interview.state in WITH_THE_VOLUNTEER:
        return _step_before_hand_in(interview, page, missing, rows)
    if interview.state in {State.SUBMITTED, State.IN_REVIEW} and unsigned:
        return NextStep(
            unsigned[0],
            "everybody to sign; then the library can accept the interview",
            "Go to the signatures",
            f"{page}#people",
        )
    return {
        State.SUBMITTED: NextStep(
            "Your interview is with the library. You need not do anything now.",
            "the local history room to listen to it",
        ),
        State.IN_REVIEW: NextStep(
            "An archivist is listening to your interview. You need not do anything now.",
            "the archivist to decide; you will get an e-mail",
        ),
        State.ACCEPTED: NextStep(
            "The library has accepted your interview. Thank you.",
            "",
            "Read the receipt",
            reverse("portal:interview-receipt", args=[interview.pk]),
        ),
        State.DECLINED: NextStep("The library could not take this interview in. Please keep your own copy."),
        State.WITHDRAWN: NextStep("This interview was withdrawn. Please keep your own copy."),
    }[State(interview.state)]


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
    if not interview.summary.strip():
        return "Go to the description", reverse("portal:interview-edit", args=[interview.pk])
    return "Add a person", reverse("portal:person-add", args=[interview.pk])


def newest_first(interviews: Any) -> list[Interview]:
    """A volunteer's own interviews for the list, with the people that make up their titles."""
    return list(
        interviews.prefetch_related("participants__person").select_related("collection").order_by("-started_at")
    )
