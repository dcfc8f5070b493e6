"""One small world in which every route has something to show: interviews in several states, kits, work."""

from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

from django.utils import timezone

from intake.accounts.models import Role, User
from intake.backlog.checking import Plan
from intake.backlog.models import BacklogImport
from intake.backlog.services import take_in
from intake.catalogue import headings, timed
from intake.catalogue import services as catalogue
from intake.catalogue.models import AccessPoint, Contributor, Cue
from intake.catalogue.webvtt import Spoken
from intake.files.models import StoredFile, UnexpectedObject, Upload
from intake.interviews import participants
from intake.interviews.models import Attachment, Interview, Mark, Part, Participant, State
from intake.interviews.services import parts_of
from intake.jobs import services as jobs
from intake.jobs.models import Job, Kind
from intake.kits import services as kits
from intake.kits.models import Kit, Loan
from intake.library import services as libraries
from intake.library.logo import keep_logo
from intake.mail.models import Message, MessageState
from intake.people import services as people
from intake.register.models import Accession
from intake.releases import turns
from intake.releases.links import make_link
from intake.releases.models import Agreement, ClosedPassage, PrintedForm, Release, Scan, SignedForm, Wish, Wording
from intake.releases.passages import close_passage
from intake.review.listening import set_mark
from tests import factories


@dataclass(frozen=True)
class World:
    """`owner` has everything in it; `other` is a volunteer who has nothing."""

    owner: User
    other: User
    archivist: User
    coordinator: User
    draft: Interview
    submitted: Interview
    in_review: Interview
    accepted: Accession
    part: Part
    part_of_accepted: Part
    problem_part: Part
    unsigned: Participant
    own_release: Release
    narrators_release: Release
    upload: Upload
    kit: Kit
    loan: Loan
    failed_job: Job
    message: Message
    invitation: str
    attachment: Attachment
    printed_form: PrintedForm
    open_form: SignedForm
    scan: Scan
    waiting_form: SignedForm
    backlog_import: BacklogImport
    logo: StoredFile
    unexpected: UnexpectedObject
    wording: Wording
    passage: ClosedPassage
    closed_release: Release
    agreement: Agreement
    link: str
    wish: Wish
    mark: Mark
    point: AccessPoint
    contributor: Contributor
    cue: Cue

    def person(self, role: str) -> User | None:
        return {"owner": self.owner, "other": self.other}.get(role) or getattr(self, role, None)


def a_world() -> World:
    owner, other = factories.a_user("Tobias Wrenfield"), factories.a_user("Lucinda Farrow")
    archivist = factories.an_archivist()
    coordinator = factories.a_user("Ottilie Brandt", role=Role.COORDINATOR)
    draft = factories.an_interview(State.DRAFT, owner=owner, parts=2)
    unsigned = participants.add_participant(
        draft.pk, name="Aurel Lindqvist", email="aurel@example.org", role="narrator", actor=owner
    )
    attachment = factories.an_attachment_stored(draft)
    open_form = factories.a_form_typed_in(factories.interviewer_of(draft))
    scan = factories.a_scan(open_form)
    waiting = factories.a_form_handed_in(factories.narrator_of(factories.a_started_interview(owner)))
    arriving = factories.a_part_arriving(factories.a_started_interview(owner), b"0123456789")
    submitted = factories.an_interview(State.SUBMITTED, owner=owner)
    in_review = factories.an_interview(
        State.IN_REVIEW, owner=owner, reviewer=archivist, ready=True, content=factories.a_clipped_wav()
    )
    accepted = factories.an_accession(owner=owner, reviewer=archivist)
    passage = _a_passage(parts_of(accepted.interview)[0], archivist)
    cue, contributor, point = _described(accepted.interview, archivist)
    kit, loan = _kits(archivist)
    failed = jobs.enqueue(Kind.SEND_MESSAGE, 999_999)  # no such message: it fails
    token = _an_invitation(archivist)
    factories.run_jobs()
    failed.refresh_from_db()
    return World(
        owner=owner,
        other=other,
        archivist=archivist,
        coordinator=coordinator,
        draft=draft,
        submitted=submitted,
        in_review=in_review,
        accepted=accepted,
        part=parts_of(draft)[0],
        part_of_accepted=parts_of(accepted.interview)[0],
        problem_part=parts_of(in_review)[0],
        unsigned=unsigned,
        own_release=factories.interviewer_of(accepted.interview).releases.get(),
        narrators_release=factories.narrator_of(accepted.interview).releases.get(),
        upload=arriving.upload,
        kit=kit,
        loan=loan,
        failed_job=failed,
        message=Message.objects.filter(key__startswith="arrival-", state=MessageState.SENT).latest("pk"),
        invitation=token,
        attachment=attachment,
        printed_form=open_form.form,
        open_form=open_form,
        scan=scan,
        waiting_form=waiting,
        backlog_import=_an_import(archivist),
        logo=libraries.show_logo(keep_logo(factories.a_drawing()), actor=coordinator).logo,
        unexpected=_something_unexpected(),
        wording=Wording.objects.earliest("pk"),
        passage=passage,
        closed_release=_closed_until_an_event(owner),
        agreement=factories.a_signed_agreement(unsigned),
        wish=_a_wish(in_review, archivist),
        mark=set_mark(parts_of(draft)[0].pk, kind="note", at_seconds=0.1, note="x", actor=archivist),
        point=point,
        contributor=contributor,
        cue=cue,
        link=make_link(unsigned.pk, purpose="sign", moment="release", actor=owner)[1],
    )


def _described(interview: Interview, actor: User) -> tuple[Cue, Contributor, AccessPoint]:
    said = Spoken(0, 200, "Marit", "The ferry.")
    cue = timed.write_cue(parts_of(interview)[0].pk, kind="transcript", said=said, actor=actor)
    new = {"name": "Jens Lund", "catalogue_name": "Lund, Jens", "role": "transcriber"}
    contributor = catalogue.name_somebody_new(interview.pk, actor=actor, **new)
    heading = headings.add_own("Cable ferries", kind="subject", actor=actor)
    return cue, contributor, catalogue.give_heading(interview.pk, heading=heading, use="about", actor=actor)


def _a_wish(interview: Interview, actor: User) -> Wish:
    until = timezone.localdate() + timedelta(days=9)
    turn = turns.begin(factories.narrator_of(interview).pk, until=until, actor=actor)
    part = parts_of(interview)[0]
    return turns.wish(turn.pk, part_id=part.pk, from_seconds=0.1, to_seconds=0.2, reason="")


def _a_passage(part: Part, actor: User) -> ClosedPassage:
    return close_passage(part.pk, from_seconds=0.1, to_seconds=0.2, length_seconds=None, reason="x", actor=actor)


def _closed_until_an_event(owner: User) -> Release:
    narrator = factories.narrator_of(factories.a_started_interview(owner))
    until = timezone.localdate() + timedelta(days=90)
    return factories.a_signed_release(narrator, access="closed", closed_until=until, closed_event="the sale")


def _an_import(actor: User) -> BacklogImport:
    """Of a folder that holds nothing: none of its rows has been told yet."""
    plan = Plan(folder=Path("/nowhere"), csv_name="back-log.csv", csv_sha256=factories.sha256(b"back-log"))
    take_in(plan, actor=actor, submit=False, say=lambda sentence: None)
    return BacklogImport.objects.get()


def _something_unexpected() -> UnexpectedObject:
    now = timezone.now()
    facts = {"modified_at": now, "first_seen_at": now, "last_seen_at": now}
    return UnexpectedObject.objects.create(store="replica", key="holiday.jpg", bytes=9, **facts)


def _kits(actor: User) -> tuple[Kit, Loan]:
    on_shelf = kits.add_kit(number="1", contents="recorder", actor=actor)
    out = kits.add_kit(number="2", contents="recorder", actor=actor)
    due_on = timezone.localdate() + timedelta(days=14)
    loan, _ = kits.lend(out.pk, name="Lucinda Farrow", email="lucinda-kit@example.org", due_on=due_on, actor=actor)
    return on_shelf, loan


def _an_invitation(actor: User) -> str:
    secrets: list[str] = []

    def url_for(token: str) -> str:
        secrets.append(token)
        return token

    people.invite(name="Jonna Vik", email="jonna@example.org", role=Role.VOLUNTEER, actor=actor, url_for=url_for)
    return secrets[0]
