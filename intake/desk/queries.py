"""What the desk's lists and small pages show, gathered from several apps; the review's is review_page.py."""

from dataclasses import dataclass
from typing import Any

from allauth.mfa.models import Authenticator
from django.core.paginator import Page, Paginator
from django.db.models import Count, Exists, Max, OuterRef, Q, QuerySet, Sum

from intake.accounts.models import User
from intake.backlog.models import BacklogImport, BacklogRow
from intake.figures import size
from intake.files import room
from intake.interviews.models import Collection, Interview, Participant
from intake.kits.models import Kit, Loan
from intake.mail import services as mail
from intake.mail.models import Message
from intake.outputs.packages.contents import left_out
from intake.people.models import Invitation, Person
from intake.register.models import Accession
from intake.releases.models import Agreement, FormState, Release, SignedForm
from intake.releases.paper_forms import scans_of, why_not_confirm
from intake.web.handed_in import FileRow, file_rows

PER_PAGE = 50
NEEDS_CARE = "needs-care"


@dataclass(frozen=True)
class PersonRecord:
    """All that points to one person, to be looked at before two records are made one."""

    person: Person
    participations: list[Participant]
    given: list[Interview]
    releases: list[Release]
    loans: list[Loan]
    invitations: list[Invitation]


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


def messages_page(filters: dict[str, Any], number: str | None) -> Page:
    """Messages, the newest first, by state and by words of the address or subject."""
    state, words = filters.get("state"), filters.get("words")
    messages = mail.troubled() if state == NEEDS_CARE else Message.objects.all()
    if state and state != NEEDS_CARE:
        messages = messages.filter(state=state)
    if words:
        messages = messages.filter(Q(to__icontains=words) | Q(subject__icontains=words))
    return Paginator(messages, PER_PAGE).get_page(number)


def register_page(number: str | None) -> Page:
    """All accessions, the newest number first; those undone keep their place and say why."""
    accessions = Accession.objects.select_related("accepted_by", "undone_by", "undo_proposed_by")
    return Paginator(accessions.order_by("-year", "-sequence"), PER_PAGE).get_page(number)


@dataclass(frozen=True)
class CollectionRow:
    """A collection, how many of its interviews are accepted, and why some of them have no package now."""

    collection: Collection
    accepted: int
    left_out: list[str]


def collections() -> list[CollectionRow]:
    stands = Q(interviews__accessions__isnull=False, interviews__accessions__undone_at=None)
    counted = Collection.objects.annotate(accepted=Count("interviews", filter=stands, distinct=True))
    return [CollectionRow(collection, collection.accepted, left_out(collection)) for collection in counted]


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
    became: Release | Agreement | None
    reasons: list[str]

    @property
    def is_waiting(self) -> bool:
        return self.signed.state == FormState.WAITING


def form_page(signed: SignedForm, user: User) -> FormPage:
    model = Agreement if signed.is_agreement else Release
    became = model.objects.filter(signed_form=signed).first()
    return FormPage(signed, file_rows(scans_of(signed)), became, why_not_confirm(signed, user))


def forms_to_confirm() -> int:
    return SignedForm.objects.filter(state=FormState.WAITING).count()


def waiting_forms() -> list[SignedForm]:
    """The signed forms that wait for staff, the longest waiting first."""
    return list(
        SignedForm.objects.filter(state=FormState.WAITING)
        .select_related("form__participant__person", "form__participant__interview", "form__wording", "handed_in_by")
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
