"""What the people of the demo do, each step through the services and moves that the pages use."""

import hashlib
import io
import math
from datetime import date, timedelta
from pathlib import Path

from django.conf import settings
from django.db import transaction
from django.utils import timezone
from PIL import Image, ImageDraw

from intake import workflow
from intake.accounts.models import User
from intake.files import uploads
from intake.files.models import Upload
from intake.interviews import services as interviews
from intake.interviews.models import Collection, Interview, Part, Participant
from intake.interviews.services import Description
from intake.kits import services as kits
from intake.kits.models import Kit
from intake.library import services as libraries
from intake.library.models import Step
from intake.local.demo_people import PASSWORD, Account
from intake.outputs.services import site_url
from intake.people import services as people
from intake.qc.services import latest_report
from intake.releases import services as releases
from intake.releases.models import Access, Method, Release
from intake.releases.services import Choices, Signature
from intake.review import services as review

PIECE_BYTES = 1024 * 1024
OPEN = Choices(access=Access.OPEN, closed_until=None, name_withheld=False)
ON_SITE = Choices(access=Access.ON_SITE, closed_until=None, name_withheld=False)
NAME_WITHHELD = Choices(access=Access.OPEN, closed_until=None, name_withheld=True)


def closed_until(day: date) -> Choices:
    return Choices(access=Access.CLOSED, closed_until=day, name_withheld=False)


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


def take_back(kit: str, *, condition: str, by: Account) -> None:
    loan = Kit.objects.get(number=kit).loans.get(returned_at=None)
    kits.take_back(loan.pk, condition=condition, actor=user(by))


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
    description = Description(
        collection=Collection.objects.get(name=collection),
        recorded_on=recorded_on,
        place=place,
        language=language,
        summary=summary,
        context_notes=notes,
        names_and_spellings=names,
    )
    return interviews.start(actor=user(by), description=description, narrator_name=narrator, narrator_email=email)


def add_narrator(interview: Interview, name: str, *, email: str = "") -> None:
    interviews.add_participant(
        interview.pk, name=name, email=email, role=Participant.Role.NARRATOR, actor=interview.owner
    )


def send(interview: Interview, name: str, content: bytes, *, media_type: str = "audio/wav") -> Part:
    """Send a file in pieces with their checksums, then the digest of the whole, as a browser does."""
    part = _announce(interview, name, len(content), media_type)
    _send_pieces(part.upload, content)
    uploads.declare_digest(part.upload_id, hashlib.sha256(content).hexdigest())
    return part


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


def hand_in(interview: Interview) -> None:
    workflow.submit(interview.pk, actor=interview.owner)


def withdraw(interview: Interview, reason: str) -> None:
    workflow.withdraw(interview.pk, reason=reason, actor=interview.owner)


# The library's work


def take_up(interview: Interview, *, by: Account) -> None:
    workflow.take_up(interview.pk, actor=user(by))


def answer_problems(interview: Interview, answer: str, *, by: Account) -> None:
    """Say of every problem that was found why it does not stand in the way."""
    for part in interviews.parts_of(interview):
        report = latest_report(part.file) if part.file else None
        for problem in review.unanswered(report) if report else []:
            review.answer_finding(
                part.pk, code=problem["code"], channel=review.channel_of(problem), answer=answer, actor=user(by)
            )


def accept(interview: Interview, *, by: Account) -> None:
    workflow.accept(interview.pk, actor=user(by))


def send_back(interview: Interview, message: str, *, by: Account) -> None:
    workflow.send_back(interview.pk, message=message, actor=user(by))


def decline(interview: Interview, reason: str, *, by: Account) -> None:
    workflow.decline(interview.pk, reason=reason, actor=user(by))


def _announce(interview: Interview, name: str, length: int, media_type: str) -> Part:
    with transaction.atomic():
        upload = uploads.begin(owner=interview.owner, name=name, media_type=media_type, length=length, metadata="")
        return interviews.add_part(interview.pk, upload=upload, actor=interview.owner)


def _send_pieces(upload: Upload, content: bytes) -> None:
    for offset in range(0, len(content), PIECE_BYTES):
        piece = content[offset : offset + PIECE_BYTES]
        checksum = uploads.Checksum("sha256", hashlib.sha256(piece).digest())
        uploads.append(upload.pk, offset=offset, body=io.BytesIO(piece), checksum=checksum)


def _sign(participant: Participant, chosen: Choices) -> Release:
    session = releases.open_signing(participant.pk, actor=participant.interview.owner)
    wording = releases.wording_for(participant.role, participant.interview.language)
    drawn = participant.role == Participant.Role.NARRATOR
    signature = Signature(
        method=Method.DRAWN if drawn else Method.TYPED,
        typed_name=participant.person.name,
        png=_scrawl(participant.person.name) if drawn else None,
        consented_at=timezone.now(),
        address="127.0.0.1",
        agent="Demo",
    )
    return releases.sign(session.pk, wording_id=wording.pk, choices=chosen, signature=signature)


def _scrawl(name: str) -> bytes:
    """A running line, different for every name, as a drawn signature: a PNG on a transparent ground."""
    seed = hashlib.sha256(name.encode()).digest()
    image = Image.new("RGBA", (600, 200), (0, 0, 0, 0))
    turns = [(1 + byte % 5, byte / 40) for byte in seed[:3]]
    line = []
    for step in range(400):
        at = step / 400
        swing = sum(math.sin(2 * math.pi * speed * 3 * at + start) for speed, start in turns) / len(turns)
        loop = 14 * math.cos(2 * math.pi * 9 * at + turns[0][1])
        line.append((50 + 480 * at + loop, 105 - 55 * swing * (1 - 0.6 * at)))
    ImageDraw.Draw(image).line(line, fill=(24, 30, 54, 255), width=4, joint="curve")
    png = io.BytesIO()
    image.save(png, "PNG")
    return png.getvalue()
