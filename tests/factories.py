"""Plain functions that bring the site into a state, always through the services that people use."""

import hashlib
import io
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, datetime, timedelta
from functools import cache
from itertools import count
from unittest.mock import patch

import numpy as np
import soundfile
from allauth.mfa.totp.internal.auth import TOTP
from django.contrib.auth import get_user_model
from django.db import transaction
from django.utils import timezone
from PIL import Image, ImageDraw

from intake import workflow
from intake.accounts.models import Role, User
from intake.catalogue import services as catalogue
from intake.catalogue.complete import description_of, people_named
from intake.catalogue.services import Said
from intake.catalogue.withheld import Withheld, participants_of
from intake.files import fixity, uploads
from intake.files.fixity import Reader, Reading
from intake.files.models import Expects, Found, StoredFile, Upload, Why
from intake.interviews import attachments
from intake.interviews import services as interviews
from intake.interviews.attachments import Caption
from intake.interviews.models import Attachment, Collection, Interview, Part, Participant, State
from intake.jobs import services as jobs
from intake.jobs.models import Job, JobState, Kind
from intake.library import services as libraries
from intake.library.models import Library
from intake.people.models import Person
from intake.qc.services import latest_report
from intake.register.models import Accession
from intake.releases import paper_forms
from intake.releases import services as releases
from intake.releases.models import Agreement, Moment, PrintedForm, Release, Scan, SignedForm, SigningSession
from intake.releases.paper_forms import Typed
from intake.releases.services import Choices, Signature
from intake.releases.wordings import digest_of_text, filled, wording_for
from intake.review import services as review

COLLECTION = "Both Banks: the crossing years"
RECORDED_ON = date(2026, 3, 14)
PASSWORD = "seven-otters-by-lantern"
TOTP_SECRET = "GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ"  # RFC 6238, appendix B, in base 32
IN_COPYRIGHT = "http://rightsstatements.org/vocab/InC/1.0/"
WAS_ACCEPTED = {State.ACCEPTED, State.CATALOGUED, State.TAKEN_DOWN}
_numbers = count(1)


# People


def a_user(
    name: str = "Tobias Wrenfield", *, role: str = Role.VOLUNTEER, email: str = "", second_step: bool = True
) -> User:
    """Staff have set up their second step, without which no page of theirs opens, unless a test is about that."""
    first = name.partition(" ")[0].lower()
    address = email or f"{first}-{next(_numbers)}@example.org"
    user = get_user_model().objects.create_user(address, PASSWORD, name=name, role=role)
    if user.is_archivist and second_step:
        TOTP.activate(user, TOTP_SECRET)
    return user


def an_archivist(name: str = "Ines Halloway") -> User:
    return a_user(name, role=Role.ARCHIVIST)


def describe_the_library(coordinator: User, **changes: str) -> Library:
    described = {
        "name": "Alder Ferry Public Library",
        "room": "Local History Room",
        "place": "Alder Ferry",
        "contact": "3 Landing Lane\nTel. 0100 555",
        "email": "history@alderferry.example.org",
    }
    return libraries.describe(**{**described, **changes}, actor=coordinator)


# Sound


@cache
def a_wav(*, seconds: float = 0.4, level: float = 0.1, pitch_hz: float = 440.0) -> bytes:
    """A short tone as a recorder might write it: 16 kHz, 16 bit, mono. At a level above 1 it is clipped."""
    moments = np.arange(int(seconds * 16_000)) / 16_000
    file = io.BytesIO()
    tone = np.clip(level * np.sin(2 * np.pi * pitch_hz * moments), -1, 1)
    soundfile.write(file, tone, 16_000, format="WAV", subtype="PCM_16")
    return file.getvalue()


def a_clipped_wav() -> bytes:
    """A recording with one problem that a reviewer must answer."""
    return a_wav(level=1.5)


def sha256(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


# Uploads


def an_upload(owner: User, *, length: int = 10, name: str = "TOLL0007.WAV", media_type: str = "audio/wav") -> Upload:
    """As a page begins one: the digest of the whole file is declared afterwards."""
    follows = uploads.Said(digest_follows=True)
    return uploads.begin(owner=owner, name=name, media_type=media_type, length=length, metadata="", said=follows)


def a_part_arriving(interview: Interview, content: bytes, name: str = "TOLL0007.WAV") -> Part:
    """A part of which nothing has come in yet."""
    with transaction.atomic():
        upload = an_upload(interview.owner, length=len(content), name=name)
        return interviews.add_part(interview.pk, upload=upload, actor=interview.owner)


def send(upload: Upload, content: bytes, *, offset: int = 0) -> Upload:
    return uploads.append(upload.pk, offset=offset, body=io.BytesIO(content), checksum=None)


def a_part_received(
    interview: Interview, content: bytes | None = None, *, name: str = "TOLL0007.WAV", declared: str = ""
) -> Part:
    """A part that came in two pieces, its digest declared; it waits to be compared and stored."""
    # Different recordings, none near the 8 kHz at which a tone of 16 kHz samples falls apart.
    content = content or a_wav(pitch_hz=200 + 10 * (next(_numbers) % 300))
    part = a_part_arriving(interview, content, name)
    half = len(content) // 2
    send(part.upload, content[:half])
    send(part.upload, content[half:], offset=half)
    uploads.declare_digest(part.upload_id, declared or sha256(content))
    part.refresh_from_db()
    return part


def a_part_stored(interview: Interview, content: bytes | None = None, *, name: str = "TOLL0007.WAV") -> Part:
    part = a_part_received(interview, content, name=name)
    run_jobs(Kind.STORE_UPLOAD)
    part.refresh_from_db()
    return part


def a_bad_reading(file: StoredFile, store: str = "replica") -> None:
    """The latest reading of this copy found other bytes. Nothing is mended: the copies themselves are as they were."""
    fixity.note(file, Reading(store, Found.DIFFERS, "0" * 64, file.bytes), Reader(Why.SCHEDULE))


# Attachments and signed forms


@cache
def a_photograph(colour: str = "saddlebrown", form: str = "JPEG", size: tuple[int, int] = (640, 480)) -> bytes:
    """A picture as a telephone or a scanner makes it, though of nothing."""
    picture = io.BytesIO()
    Image.new("RGB", size, colour).save(picture, form)
    return picture.getvalue()


def an_attachment_arriving(interview: Interview, content: bytes, name: str = "porch.jpg", **said: str) -> Attachment:
    """An attachment of which nothing has come in yet."""
    caption = Caption(**{"kind": "photograph", "caption": "The ferry house", "rights_note": "", **said})
    with transaction.atomic():
        upload = uploads.begin(
            owner=interview.owner, name=name, media_type="", length=len(content), metadata="", expects=Expects.DOCUMENT
        )
        return attachments.add_attachment(interview.pk, upload=upload, said=caption, actor=interview.owner)


def an_attachment_stored(
    interview: Interview, content: bytes | None = None, *, name: str = "porch.jpg", **said: str
) -> Attachment:
    content = content or a_photograph()
    attachment = an_attachment_arriving(interview, content, name, **said)
    _send_whole(attachment.upload, content)
    attachment.refresh_from_db()
    return attachment


def what_is_typed(form: PrintedForm, *, signed_on: date | None = None, signed_by: str = "", **chosen: object) -> Typed:
    return Typed(form.number, choices(**chosen), signed_on or timezone.localdate(), signed_by or form.signer)


def a_form_typed_in(participant: Participant, **typed: object) -> SignedForm:
    """A printed form whose ticks have been typed in; no scan yet."""
    form = paper_forms.print_form(participant.pk, actor=participant.interview.owner)
    return paper_forms.type_in(participant.pk, typed=what_is_typed(form, **typed), actor=participant.interview.owner)


def a_scan(signed: SignedForm, content: bytes | None = None, name: str = "form.jpg") -> Scan:
    """A page of a signed form, stored."""
    content = content or a_photograph("ivory", size=(620, 877))
    owner = signed.participant.interview.owner
    with transaction.atomic():
        upload = uploads.begin(
            owner=owner, name=name, media_type="", length=len(content), metadata="", expects=Expects.SCAN
        )
        scan = paper_forms.add_scan(signed.pk, upload=upload, actor=owner)
    _send_whole(upload, content)
    scan.refresh_from_db()
    return scan


def a_form_handed_in(participant: Participant, **typed: object) -> SignedForm:
    """A form signed on paper that waits for the library's staff."""
    signed = a_form_typed_in(participant, **typed)
    a_scan(signed)
    return paper_forms.hand_in(signed.pk, actor=participant.interview.owner)


def a_release_on_paper(participant: Participant, *, actor: User | None = None, **typed: object) -> Release:
    signed = a_form_handed_in(participant, **typed)
    return paper_forms.confirm(signed.pk, actor=actor or an_archivist("Rowan Pike"))


def an_agreement_handed_in(participant: Participant) -> SignedForm:
    """An agreement signed on paper that waits for the library's staff."""
    owner = participant.interview.owner
    form = paper_forms.print_form(participant.pk, actor=owner, moment=Moment.AGREEMENT)
    typed = Typed(form.number, None, timezone.localdate(), form.signer)
    signed = paper_forms.type_in(participant.pk, typed=typed, actor=owner)
    a_scan(signed)
    return paper_forms.hand_in(signed.pk, actor=owner)


def an_agreement_on_paper(participant: Participant, *, actor: User) -> Agreement:
    return paper_forms.confirm(an_agreement_handed_in(participant).pk, actor=actor)


def _send_whole(upload: Upload, content: bytes) -> None:
    send(upload, content)
    uploads.declare_digest(upload.pk, sha256(content))
    run_jobs(Kind.STORE_UPLOAD)


# Background work


def run_jobs(*kinds: str) -> list[Job]:
    """Do the waiting work of these kinds (of all, if none is named) and what it asks for; the jobs as they ended."""
    ended: list[Job] = []
    while job := _next_waiting(kinds):
        jobs.run(job.pk)
        job.refresh_from_db()
        ended.append(job)
    return ended


def _next_waiting(kinds: tuple[str, ...]) -> Job | None:
    waiting = Job.objects.filter(state=JobState.WAITING, due_at__lte=timezone.now())
    return (waiting.filter(kind__in=kinds) if kinds else waiting).order_by("id").first()


# Interviews


def a_collection(name: str = COLLECTION) -> Collection:
    return Collection.objects.filter(name=name).first() or interviews.add_collection(name=name, actor=_a_keeper())


def a_description(**changes: object) -> interviews.Description:
    described = {
        "collection": a_collection(),
        "recorded_on": RECORDED_ON,
        "place": "The kitchen of the old toll house",
        "language": "en",
        "summary": "Forty years of the cable ferry.",
        "context_notes": "",
        "names_and_spellings": "Oskarsen, with a k",
    }
    return interviews.Description(**{**described, **changes})


def a_started_interview(
    owner: User | None = None,
    *,
    narrator: str = "Marit Oskarsen",
    narrator_email: str = "marit@example.org",
    **described: object,
) -> Interview:
    return interviews.start(
        actor=owner or a_user(),
        description=a_description(**described),
        narrator_name=narrator,
        narrator_email=narrator_email,
    )


def an_interview(
    state: State = State.DRAFT,
    *,
    parts: int = 1,
    owner: User | None = None,
    reviewer: User | None = None,
    content: bytes | None = None,
    ready: bool = False,
    chosen: dict[str, object] | None = None,
) -> Interview:
    """An interview brought to `state` by the moves that lead there.

    `ready` also has its parts measured, everybody's signature and an answer to each problem, as acceptance needs.
    `chosen` is what the narrator chose, where the others left everything open.
    """
    interview = a_started_interview(owner)
    for place in range(1, parts + 1):
        a_part_stored(interview, content, name=f"TOLL000{place}.WAV")
    if ready or state in WAS_ACCEPTED:
        run_jobs(Kind.MEASURE_PART)
        sign_everybody(interview, **(chosen or {}))
    _walk(interview, state, reviewer or an_archivist(), ready=ready)
    interview.refresh_from_db()
    return interview


def _walk(interview: Interview, state: State, reviewer: User, *, ready: bool) -> None:
    if state == State.WITHDRAWN:
        workflow.withdraw(interview.pk, reason="The narrator asked for it.", actor=interview.owner)
        return
    if state == State.DRAFT:
        return
    workflow.submit(interview.pk, actor=interview.owner)
    if state == State.SUBMITTED:
        return
    workflow.take_up(interview.pk, actor=reviewer)
    if ready or state in WAS_ACCEPTED:
        answer_everything(interview, reviewer)
    if state == State.RETURNED:
        workflow.send_back(interview.pk, message="Please name the second voice.", actor=reviewer)
    elif state == State.DECLINED:
        workflow.decline(interview.pk, reason="It is not about the crossing.", actor=reviewer)
    elif state in WAS_ACCEPTED:
        workflow.accept(interview.pk, actor=reviewer)
    if state == State.CATALOGUED:
        describe_whole(interview, reviewer)
        workflow.describe(interview.pk, actor=reviewer)
    if state == State.TAKEN_DOWN:
        workflow.ask_withdrawal(interview.pk, wished_by="Marit Oskarsen", reason="It hurts.", actor=interview.owner)
        workflow.take_down(interview.pk, reason="She is right.", actor=reviewer)


def describe_whole(interview: Interview, actor: User) -> None:
    """What cataloguing needs beyond what the volunteer wrote: names in catalogue order, and the rights."""
    withheld = Withheld.of(participants_of(interview)).people
    for person in people_named(interview):
        if person.pk not in withheld and not person.catalogue_name:
            given, _, family = person.name.rpartition(" ")
            name_person(person, f"{family}, {given}" if given else family, actor=actor)
    kept = description_of(interview)
    rights = kept.rights or IN_COPYRIGHT
    said = Said(kept.title, kept.summary, kept.languages, kept.periods, rights)
    catalogue.describe(interview.pk, said=said, actor=actor)


def name_person(person: Person, name: str, *, actor: User, variants: tuple[str, ...] = (), **said: str) -> Person:
    told = {"life_dates": "", "uri": "", **said}
    return catalogue.name_person(person.pk, catalogue_name=name, variant_names=variants, actor=actor, **told)


def an_accession(**given: object) -> Accession:
    return an_interview(State.ACCEPTED, **given).accessions.get()


def answer_everything(interview: Interview, reviewer: User) -> None:
    for part in interviews.parts_of(interview):
        report = latest_report(part.file)
        for problem in review.unanswered(report) if report else []:
            review.answer_finding(
                part.pk,
                code=problem["code"],
                channel=review.channel_of(problem),
                kind="accept",
                answer="The voice cannot be recorded again.",
                actor=reviewer,
            )


# Releases


def choices(access: str = "open", closed_until: date | None = None, **chosen: object) -> Choices:
    return Choices(access, closed_until, **chosen)


def a_typed_signature(name: str = "Marit Oskarsen") -> Signature:
    return Signature(
        method="typed",
        typed_name=name,
        png=None,
        consented_at=timezone.now(),
        address="192.0.2.7",  # RFC 5737, section 3: an address for documentation
        agent="A browser",
    )


@cache
def a_drawing() -> bytes:
    """A stroke on a transparent ground, as a signature pad sends it."""
    image = Image.new("RGBA", (300, 100), (0, 0, 0, 0))
    ImageDraw.Draw(image).line([(10, 75), (100, 20), (160, 80), (280, 30)], fill=(20, 20, 40, 255), width=4)
    png = io.BytesIO()
    image.save(png, "PNG")
    return png.getvalue()


def a_signing_session(participant: Participant, *, actor: User | None = None) -> SigningSession:
    return releases.open_signing(participant.pk, actor=actor or participant.interview.owner)


def a_signed_release(participant: Participant, **chosen: object) -> Release:
    session = a_signing_session(participant)
    wording = wording_for(Moment.RELEASE, participant.role, participant.interview.language)
    return releases.sign(
        session.pk,
        wording_id=wording.pk,
        text_sha256=digest_of_text(filled(wording, participant)),
        choices=choices(**chosen),
        signature=a_typed_signature(participant.person.name),
    )


def a_signed_agreement(participant: Participant) -> Agreement:
    session = releases.open_signing(participant.pk, actor=participant.interview.owner, moment=Moment.AGREEMENT)
    wording = wording_for(Moment.AGREEMENT, participant.role, participant.interview.language)
    return releases.agree(
        session.pk,
        wording_id=wording.pk,
        text_sha256=digest_of_text(filled(wording, participant)),
        signature=a_typed_signature(participant.person.name),
    )


def sign_everybody(interview: Interview, **narrator: object) -> list[Release]:
    """Everybody signs; the narrator with these choices."""
    return [
        a_signed_release(participant, **(narrator if participant.role == Participant.Role.NARRATOR else {}))
        for participant in interview.participants.select_related("person")
    ]


def narrator_of(interview: Interview) -> Participant:
    return interview.participants.select_related("person", "interview").get(role=Participant.Role.NARRATOR)


def interviewer_of(interview: Interview) -> Participant:
    return interview.participants.select_related("person", "interview").get(role=Participant.Role.INTERVIEWER)


# Time


@contextmanager
def at_time(moment: datetime) -> Iterator[None]:
    """Everything that asks Django for the time is told this moment."""
    with patch("django.utils.timezone.now", return_value=moment):
        yield


def later(**span: float) -> datetime:
    return timezone.now() + timedelta(**span)


def _a_keeper() -> User:
    return a_user("Ottilie Brandt", role=Role.COORDINATOR)
