"""What the people of the demo do, each step through the services and moves that the pages use."""

import csv
import hashlib
import io
from collections.abc import Sequence
from datetime import date, timedelta
from pathlib import Path

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from intake import workflow
from intake.accounts.models import User
from intake.backlog import checking
from intake.backlog import services as backlog
from intake.files import uploads
from intake.files.models import Expects, Upload
from intake.interviews import attachments, counter, participants
from intake.interviews import services as interviews
from intake.interviews.attachments import Caption
from intake.interviews.counter import Involved, Named
from intake.interviews.models import Collection, Interview, Part, Participant
from intake.interviews.services import Description
from intake.kits import services as kits
from intake.kits.models import Card, Kit
from intake.library import services as libraries
from intake.library.models import Step
from intake.local import demo_drawings as drawings
from intake.local.demo_people import PASSWORD, Account
from intake.mail import services as mail
from intake.mail.models import Message
from intake.outputs import letters
from intake.outputs.models import LetterKind
from intake.outputs.services import site_url
from intake.people import services as people
from intake.qc.services import latest_report
from intake.register import clearing
from intake.releases import paper_forms
from intake.releases import services as releases
from intake.releases.models import Access, FormState, Method, Moment, Release, SignedForm
from intake.releases.paper_forms import Typed
from intake.releases.services import Choices, Signature
from intake.releases.wordings import digest_of_text, filled, wording_for
from intake.review import services as review

PIECE_BYTES = 1024 * 1024
OPEN = Choices(access=Access.OPEN)
ON_SITE = Choices(access=Access.ON_SITE)
NAME_WITHHELD = Choices(access=Access.OPEN, name_withheld=True)


def closed_until(day: date) -> Choices:
    return Choices(access=Access.CLOSED, closed_until=day)


# The library, its people and its kits


def set_up(library: dict[str, str], *, by: Account) -> None:
    """Say on the set-up page what the library is, and leave nothing open there."""
    libraries.describe(**library, actor=user(by))
    for step in Step:
        libraries.settle(step, actor=user(by))


def user(account: Account) -> User:
    return User.objects.get(email=account.email)


def join(account: Account, *, by: Account) -> None:
    """Be invited, and follow the link that is sent."""
    tokens: list[str] = []

    def url_for(token: str) -> str:
        tokens.append(token)
        return site_url("portal:welcome", token)

    people.invite(name=account.name, email=account.email, role=account.role, actor=user(by), url_for=url_for)
    people.accept_invitation(tokens[0], name=account.name, password=PASSWORD)


def invite(who: tuple[str, str], *, role: str, by: Account) -> None:
    name, email = who
    people.invite(
        name=name, email=email, role=role, actor=user(by), url_for=lambda token: site_url("portal:welcome", token)
    )


def lend(kit: str, who: tuple[str, str] | Account, *, due_on: date, by: Account) -> str:
    """Lend a kit over the counter; returns the code on the loan slip."""
    name, email = (who.name, who.email) if isinstance(who, Account) else who
    _, code = kits.lend(Kit.objects.get(number=kit).pk, name=name, email=email, due_on=due_on, actor=user(by))
    return code


def redeem(code: str, account: Account) -> None:
    """Open an account with the code on the loan slip."""
    kits.redeem_code(code, name=account.name, password=PASSWORD)


def days_from_now(count: int) -> date:
    return timezone.localdate() + timedelta(days=count)


def take_back(kit: str, *, condition: str, card: Card, by: Account) -> None:
    loan = Kit.objects.get(number=kit).loans.get(returned_at=None)
    told = clearing.of_loan(loan).in_words
    kits.take_back(loan.pk, condition=condition, card=card, told_of_card=told, actor=user(by))


# The volunteer's work


def begin(
    by: Account,
    *,
    narrator: str,
    recorded_on: date,
    place: str,
    summary: str = "",
    email: str = "",
    collection: str,
    language: str = "en",
    names: str = "",
    notes: str = "",
) -> Interview:
    description = _description(collection, recorded_on, place, language, summary, notes, names)
    return interviews.start(actor=user(by), description=description, narrator_name=narrator, narrator_email=email)


def add_narrator(interview: Interview, name: str, *, email: str = "") -> None:
    participants.add_participant(
        interview.pk, name=name, email=email, role=Participant.Role.NARRATOR, actor=interview.owner
    )


def send(interview: Interview, name: str, content: bytes, *, media_type: str = "audio/wav") -> Part:
    """Send a recording as a part of the interview."""
    part = _announce(interview, name, len(content), media_type)
    _send_whole(part.upload, content)
    return part


def attach(interview: Interview, name: str, content: bytes, said: Caption) -> None:
    """Add a photograph, notes or another document to the interview."""
    with transaction.atomic():
        upload = _begin_document(interview, name, content, Expects.DOCUMENT)
        attachments.add_attachment(interview.pk, upload=upload, said=said, actor=interview.owner)
    _send_whole(upload, content)


def send_half(interview: Interview, name: str, content: bytes) -> Part:
    """Close the laptop half-way: the pieces so far are kept, and the volunteer can go on from there."""
    part = _announce(interview, name, len(content), "audio/wav")
    _send_pieces(part.upload, content[: round(len(content) / 2 / PIECE_BYTES) * PIECE_BYTES])
    return part


def leave_on_card(name: str, content: bytes) -> None:
    """Put a file into the demo's memory card: a folder from which a newcomer can hand it in."""
    card().mkdir(exist_ok=True)
    (card() / name).write_bytes(content)


def card() -> Path:
    return Path(settings.VAR_DIR) / "card"


def take_out(part: Part) -> None:
    interviews.remove_part(part.pk, actor=part.interview.owner)


def sign(interview: Interview, chosen: Choices = OPEN, *, role: str = "") -> None:
    """Hand the device over to everybody, or to everybody in a role: narrators draw their names, interviewers type."""
    participants = interview.participants.select_related("person", "interview__owner")
    for participant in participants.filter(role=role) if role else participants:
        _sign(participant, chosen if participant.role == Participant.Role.NARRATOR else OPEN)


def sign_on_paper(interview: Interview, chosen: Choices = OPEN) -> None:
    """The narrator's form is printed, signed by hand and photographed; what is ticked on it is typed in."""
    narrator = interview.participants.get(role=Participant.Role.NARRATOR)
    form = paper_forms.print_form(narrator.pk, actor=interview.owner)
    typed = Typed(form.number, chosen, signed_on=timezone.localdate(), signed_by=form.signer)
    signed = paper_forms.type_in(narrator.pk, typed=typed, actor=interview.owner)
    photo = drawings.signed_form(form, typed)
    with transaction.atomic():
        upload = _begin_document(interview, "release-form.jpg", photo, Expects.SCAN)
        paper_forms.add_scan(signed.pk, upload=upload, actor=interview.owner)
    _send_whole(upload, photo)


def hand_in_form(interview: Interview) -> None:
    """The photo has been stored; from now on the form waits for the library's staff."""
    paper_forms.hand_in(_form(interview, FormState.OPEN).pk, actor=interview.owner)


def hand_in(interview: Interview) -> None:
    workflow.submit(interview.pk, actor=interview.owner)


def withdraw(interview: Interview, reason: str) -> None:
    workflow.withdraw(interview.pk, reason=reason, actor=interview.owner)


# At the counter


def begin_at_counter(
    giver: tuple[str, str],
    *,
    by: Account,
    narrator: str,
    recorded_on: date,
    place: str,
    summary: str,
    collection: str,
    notes: str,
    names: str,
) -> Interview:
    """Whoever asked the questions brings the card; staff begin the interview for them."""
    name, email = giver
    return counter.start_at_counter(
        actor=user(by),
        description=_description(collection, recorded_on, place, "en", summary, notes, names),
        giver=Named(name, email),
        giver_is=Involved.INTERVIEWER,
        narrator=Named(narrator),
        interviewer=None,
    )


def take_in_backlog(rows: Sequence[dict[str, str]], files: dict[str, bytes], *, by: Account) -> None:
    """Put old recordings and the CSV that describes them into a folder, and take all of it in."""
    folder = Path(settings.VAR_DIR) / "backlog"
    folder.mkdir(exist_ok=True)
    for name, content in files.items():
        (folder / name).write_bytes(content)
    with (folder / "list.csv").open("w", encoding="utf-8", newline="") as table:
        writer = csv.DictWriter(table, fieldnames=list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    plan = checking.check(folder, folder / "list.csv", leave_unlisted=False)
    backlog.take_in(plan, actor=user(by), submit=True, say=lambda _: None)


# The library's work


def take_up(interview: Interview, *, by: Account) -> None:
    workflow.take_up(interview.pk, actor=user(by))


def answer_problems(interview: Interview, answer: str, *, by: Account) -> None:
    """Say of every problem that was found why it does not stand in the way."""
    for part in interviews.parts_of(interview):
        report = latest_report(part.file) if part.file else None
        for problem in review.unanswered(report) if report else []:
            review.answer_finding(
                part.pk,
                code=problem["code"],
                channel=review.channel_of(problem),
                kind="accept",
                answer=answer,
                actor=user(by),
            )


def confirm_form(interview: Interview, *, by: Account) -> None:
    """Staff have compared the photo with what was typed; the form becomes the narrator's release."""
    paper_forms.confirm(_form(interview, FormState.WAITING).pk, actor=user(by))


def accept(interview: Interview, *, by: Account) -> None:
    workflow.accept(interview.pk, actor=user(by))


def thank(interview: Interview, *, by: Account) -> None:
    """Write to the first narrator as the library's own text says it, by e-mail and on paper."""
    writer, narrator = user(by), interview.people(Participant.Role.NARRATOR)[0]
    text = letters.begun(LetterKind.THANKS, narrator, interview, language="en", sender=writer)
    letters.write_letter(
        interview.pk, kind=LetterKind.THANKS, person=narrator, language="en", text=text, by_email=True, actor=writer
    )


def propose_undo(interview: Interview, reason: str, *, by: Account) -> None:
    workflow.propose_undo(interview.pk, reason=reason, actor=user(by))


def confirm_undo(interview: Interview, *, by: Account) -> None:
    workflow.confirm_undo(interview.pk, actor=user(by))


def send_back(interview: Interview, message: str, *, by: Account) -> None:
    workflow.send_back(interview.pk, message=message, actor=user(by))


def decline(interview: Interview, reason: str, *, by: Account) -> None:
    workflow.decline(interview.pk, reason=reason, actor=user(by))


def note_returned(to: str, told: str, *, by: Account) -> None:
    """The latest message to an address came back to the library's mailbox."""
    mail.note_bounce(Message.objects.filter(to=to).latest("pk").pk, told=told, actor=user(by))


def _description(
    collection: str, recorded_on: date, place: str, language: str, summary: str, notes: str, names: str
) -> Description:
    return Description(
        collection=Collection.objects.get(name=collection),
        recorded_on=recorded_on,
        place=place,
        language=language,
        summary=summary,
        context_notes=notes,
        names_and_spellings=names,
    )


def _announce(interview: Interview, name: str, length: int, media_type: str) -> Part:
    with transaction.atomic():
        upload = uploads.begin(owner=interview.owner, name=name, media_type=media_type, length=length, metadata="")
        return interviews.add_part(interview.pk, upload=upload, actor=interview.owner)


def _begin_document(interview: Interview, name: str, content: bytes, expects: Expects) -> Upload:
    return uploads.begin(
        owner=interview.owner, name=name, media_type="", length=len(content), metadata="", expects=expects
    )


def _send_whole(upload: Upload, content: bytes) -> None:
    """Send a file in pieces with their checksums, then the digest of the whole, as a browser does."""
    _send_pieces(upload, content)
    uploads.declare_digest(upload.pk, hashlib.sha256(content).hexdigest())


def _send_pieces(upload: Upload, content: bytes) -> None:
    for offset in range(0, len(content), PIECE_BYTES):
        piece = content[offset : offset + PIECE_BYTES]
        checksum = uploads.Checksum("sha256", hashlib.sha256(piece).digest())
        uploads.append(upload.pk, offset=offset, body=io.BytesIO(piece), checksum=checksum)


def _form(interview: Interview, state: FormState) -> SignedForm:
    return SignedForm.objects.get(form__participant__interview=interview, state=state)


def _sign(participant: Participant, chosen: Choices) -> Release:
    session = releases.open_signing(participant.pk, actor=participant.interview.owner)
    wording = wording_for(Moment.RELEASE, participant.role, participant.interview.language)
    read = digest_of_text(filled(wording, participant))
    drawn = participant.role == Participant.Role.NARRATOR
    signature = Signature(
        method=Method.DRAWN if drawn else Method.TYPED,
        typed_name=participant.person.name,
        png=drawings.signature(participant.person.name) if drawn else None,
        consented_at=timezone.now(),
        address="127.0.0.1",
        agent="Demo",
    )
    return releases.sign(session.pk, wording_id=wording.pk, text_sha256=read, choices=chosen, signature=signature)
