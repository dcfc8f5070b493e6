"""Loads the demo through the services and jobs that people and workers use: only its story is made up."""

import hashlib
import io
import math
from datetime import timedelta

from django.db import transaction
from django.utils import timezone
from PIL import Image, ImageDraw

from intake import workflow
from intake.accounts.models import User
from intake.files import uploads
from intake.interviews import services as interviews
from intake.interviews.models import Collection, Interview, Participant
from intake.interviews.services import Description
from intake.jobs import services as jobs
from intake.jobs.models import Job, JobState
from intake.kits import services as kits
from intake.kits.models import Loan
from intake.library import services as libraries
from intake.library.models import Step
from intake.local import demo_story as story
from intake.local.coordinator import open_first_account
from intake.local.demo_story import Account, Recording, Story
from intake.local.processes import Say
from intake.local.voices import wav
from intake.outputs.models import Output, OutputKind
from intake.outputs.services import site_url
from intake.people import services as people
from intake.releases import services as releases
from intake.releases.models import Access, Method
from intake.releases.services import Choices, Signature

LANGUAGE = "en"
PIECE_BYTES = 1024 * 1024


class DemoFailed(Exception):
    """A piece of background work did not end well while loading; the message is what its row says."""


def is_loaded() -> bool:
    """The receipt is the last thing made."""
    return Output.objects.filter(kind=OutputKind.RECEIPT).exists()


def is_half_loaded() -> bool:
    return User.objects.exists() and not is_loaded()


def load(say: Say) -> None:
    """Fill an empty database: people, kits, and an interview at each stage."""
    say("Loading the demo: people and kits.")
    coordinator = open_first_account(
        name=story.COORDINATOR.name, email=story.COORDINATOR.email, password=story.PASSWORD
    )
    _set_up_library(coordinator)
    for account in story.INVITED:
        _open_account(account, coordinator)
    _add_kits(coordinator)
    interviews.add_collection(name=story.COLLECTION, actor=coordinator)
    say("An interview that has just been begun.")
    _begin(story.JUST_BEGUN)
    say("An interview that waits for signatures; its recording is sent, stored twice and measured.")
    _record(story.TO_BE_SIGNED)
    say("An interview that was handed in.")
    _hand_in(story.HANDED_IN)
    say("An interview in review, in two parts, with laughter that was too loud for the recorder.")
    _take_up(_hand_in(story.IN_REVIEW))
    say("An interview that was accepted, with its receipt.")
    _accept(_hand_in(story.ACCEPTED))


def sign_ins(url: str) -> list[str]:
    """What to tell the person at the terminal: who can sign in, and a code for the kit that is lent."""
    accounts = (story.TOBIAS, story.DALIA, story.ARCHIVIST, story.COORDINATOR)
    lines = [f"  {account.role:<12} {account.email:<34} {account.name}" for account in accounts]
    return [
        "Sign in as one of these; the password is the same for all:",
        *lines,
        f"  password     {story.PASSWORD}",
        *_kit_code(url),
        "",
    ]


def _kit_code(url: str) -> list[str]:
    """A new code at every start: the one before may have been used, and only its digest is kept."""
    loan = Loan.objects.select_related("kit", "borrower").filter(returned_at=None).order_by("pk").first()
    if loan is None:
        return []
    code = kits.issue_code(loan.pk, actor=_user(story.COORDINATOR))
    return ["", f"Kit {loan.kit.number} is lent to {loan.borrower}. Its code {code} opens {url}kit-code/ once."]


def _open_account(account: Account, coordinator: User) -> None:
    """Invite somebody and follow the link that they are sent."""
    tokens: list[str] = []

    def url_for(token: str) -> str:
        tokens.append(token)
        return site_url("portal:welcome", token)

    people.invite(name=account.name, email=account.email, role=account.role, actor=coordinator, url_for=url_for)
    people.accept_invitation(tokens[0], name=account.name, password=story.PASSWORD)


def _set_up_library(coordinator: User) -> None:
    """What a coordinator says on the set-up page."""
    libraries.describe(**story.LIBRARY, actor=coordinator)
    for step in Step:
        libraries.settle(step, actor=coordinator)


def _add_kits(coordinator: User) -> None:
    added = {
        number: kits.add_kit(number=number, contents=contents, actor=coordinator)
        for number, contents in story.KITS.items()
    }
    name, email = story.BORROWER
    due_on = timezone.localdate() + timedelta(days=21)
    kits.lend(added[story.LENT_KIT].pk, name=name, email=email, due_on=due_on, actor=_user(story.ARCHIVIST))


def _begin(told: Story) -> Interview:
    description = Description(
        collection=Collection.objects.get(name=story.COLLECTION),
        recorded_on=told.recorded_on,
        place=told.place,
        language=LANGUAGE,
        summary=told.summary,
        context_notes=told.context_notes,
        names_and_spellings=told.names_and_spellings,
    )
    return interviews.start(
        actor=_user(told.volunteer),
        description=description,
        narrator_name=told.narrator,
        narrator_email=told.narrator_email,
    )


def _record(told: Story) -> Interview:
    interview = _begin(told)
    for recording in told.recordings:
        _send(recording, interview)
    _do_waiting_work()
    return interview


def _hand_in(told: Story) -> Interview:
    interview = _record(told)
    for participant in interview.participants.select_related("person"):
        _sign(participant)
    workflow.submit(interview.pk, actor=interview.owner)
    _do_waiting_work()
    return interview


def _take_up(interview: Interview) -> None:
    workflow.take_up(interview.pk, actor=_user(story.ARCHIVIST))


def _accept(interview: Interview) -> None:
    _take_up(interview)
    workflow.accept(interview.pk, actor=_user(story.ARCHIVIST))
    _do_waiting_work()


def _send(recording: Recording, interview: Interview) -> None:
    """Send a file in pieces with their checksums, then the digest of the whole, as a browser does."""
    content = wav(recording.make(), marks=recording.marks)
    with transaction.atomic():
        upload = uploads.begin(
            owner=interview.owner, name=recording.name, media_type="audio/wav", length=len(content), metadata=""
        )
        interviews.add_part(interview.pk, upload=upload, actor=interview.owner)
    for offset in range(0, len(content), PIECE_BYTES):
        piece = content[offset : offset + PIECE_BYTES]
        checksum = uploads.Checksum("sha256", hashlib.sha256(piece).digest())
        uploads.append(upload.pk, offset=offset, body=io.BytesIO(piece), checksum=checksum)
    uploads.declare_digest(upload.pk, hashlib.sha256(content).hexdigest())


def _sign(participant: Participant) -> None:
    """Hand the device over and sign: narrators draw their name, interviewers type it."""
    session = releases.open_signing(participant.pk, actor=participant.interview.owner)
    wording = releases.wording_for(participant.role, LANGUAGE)
    drawn = participant.role == Participant.Role.NARRATOR
    signature = Signature(
        method=Method.DRAWN if drawn else Method.TYPED,
        typed_name=participant.person.name,
        png=_scrawl(participant.person.name) if drawn else None,
        consented_at=timezone.now(),
        address="127.0.0.1",
        agent="Demo",
    )
    choices = Choices(access=Access.OPEN, closed_until=None, name_withheld=False)
    releases.sign(session.pk, wording_id=wording.pk, choices=choices, signature=signature)


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


def _do_waiting_work() -> None:
    """Do what a worker would, here and now, until nothing waits."""
    while waiting := list(Job.objects.filter(state=JobState.WAITING).order_by("pk")):
        for job in waiting:
            jobs.run(job.pk)
            job.refresh_from_db()
            if job.state != JobState.DONE:
                raise DemoFailed(f"{job.get_kind_display()} did not end well: {job.error}")


def _user(account: Account) -> User:
    return User.objects.get(email=account.email)
