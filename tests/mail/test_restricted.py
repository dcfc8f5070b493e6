"""No message carries what is restricted: no sound, no closed passage, no description, and nobody's name but those of
whom it is for and of the library's own people; also where a narrator withheld theirs.

Every message that the site can write is written here, so that a new one cannot be left out.
"""

from datetime import timedelta
from io import BytesIO
from pathlib import Path

import pytest
from django.template import loader
from django.utils import timezone
from pypdf import PdfReader

from intake import workflow
from intake.accounts.models import Role, User
from intake.files import incidents, serving
from intake.files.fixity import Reader
from intake.files.models import Why
from intake.interviews import reassigning
from intake.interviews.models import Interview, State
from intake.interviews.services import parts_of
from intake.mail import services as mail
from intake.mail.models import Message
from intake.outputs import closures, custody, issuing, letters, private_links, unfinished
from intake.outputs.models import PAPERS, LetterKind, Output, OutputKind
from intake.outputs.services import existing
from intake.people import second_step
from intake.people import services as people
from intake.releases import paper_forms, passages
from intake.releases.models import Access
from tests.factories import (
    a_form_handed_in,
    a_part_arriving,
    a_part_stored,
    a_signed_agreement,
    a_started_interview,
    a_user,
    an_interview,
    at_time,
    later,
    narrator_of,
    run_jobs,
    send,
    sign_everybody,
)
from tests.files.damage import Folder, flip, spoil

pytestmark = pytest.mark.django_db
ROOT = Path(__file__).resolve().parents[2]
EVERY_MESSAGE = {path.stem for path in (ROOT / "templates/emails").glob("*.txt")}

NARRATOR = "Marit Oskarsen"
PASSAGE = "She names the child who drowned."
EVENT = "the death of her brother"
RESTRICTED = (
    NARRATOR,
    "Oskarsen",
    PASSAGE,
    EVENT,
    "Forty years of the cable ferry",
    "The kitchen of the old toll house",
)
# What one person signed or was written says their name, and goes to nobody else.
ONES_OWN = {OutputKind.RELEASE_COPY, OutputKind.AGREEMENT_COPY, OutputKind.LETTER}


@pytest.fixture
def written(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The names of the messages that are written, in turn."""
    names: list[str] = []

    def noted(template: str, context: dict) -> str:
        names.append(Path(template).stem)
        return loader.render_to_string(template, context)

    monkeypatch.setattr(mail, "render_to_string", noted)
    return names


def withheld_and_closed() -> dict[str, object]:
    until = timezone.localdate() + timedelta(days=400)
    return {"access": Access.CLOSED, "closed_until": until, "closed_event": EVENT, "name_withheld": True}


def an_accepted_one(owner: User, reviewer: User) -> Interview:
    interview = an_interview(State.ACCEPTED, owner=owner, reviewer=reviewer, chosen=withheld_and_closed())
    part = parts_of(interview)[0]
    passages.close_passage(
        part.pk, from_seconds=0.1, to_seconds=0.2, length_seconds=None, reason=PASSAGE, actor=reviewer
    )
    run_jobs()
    return interview


def before_acceptance(owner: User, archivist: User) -> None:
    """Signing, handing in, sending back, and what goes wrong on the way."""
    interview = a_started_interview(owner)
    a_part_stored(interview)
    narrator = narrator_of(interview)
    private_links.send_link_to_sign(narrator.pk, moment="agreement", actor=owner)
    a_signed_agreement(narrator)
    form = a_form_handed_in(narrator, name_withheld=True)
    run_jobs()
    paper_forms.turn_down(form.pk, reason="The date is missing.", url="/form/", actor=archivist)
    sign_everybody(interview, **withheld_and_closed())
    workflow.submit(interview.pk, actor=owner)
    run_jobs()
    workflow.take_up(interview.pk, actor=archivist)
    private_links.offer_turn(narrator.pk, until=timezone.localdate() + timedelta(days=9), actor=archivist)
    workflow.send_back(interview.pk, message="Please name the second voice.", actor=archivist)
    an_interview(State.DECLINED, owner=owner, reviewer=archivist)
    arriving = a_part_arriving(a_started_interview(owner), b"0123456789")
    send(arriving.upload, b"01234")
    unfinished.warn(later(days=12.5))


def about_a_card(owner: User, folders: dict[str, Folder]) -> None:
    """The card may be cleared, and then both copies are damaged."""
    interview = a_started_interview(owner)
    part = a_part_stored(interview)
    workflow.submit(interview.pk, actor=owner)
    run_jobs()
    for place in folders.values():
        spoil(place, part.file, flip(3))
    incidents.examine(part.file, Reader(Why.ASKED))
    custody.tell_coordinators()
    run_jobs()


def after_acceptance(owner: User, archivist: User, coordinator: User) -> None:
    """Receipt, thanks, copies, undoing, withdrawing, and the day on which a closure ends."""
    interview = an_accepted_one(owner, archivist)
    narrator = narrator_of(interview)
    private_links.send_link_to_copy(narrator.pk, actor=archivist)
    letters.write_letter(
        interview.pk,
        kind=LetterKind.THANKS,
        person=narrator.person,
        language="en",
        text=letters.begun("thanks", narrator.person, interview, language="en", sender=archivist),
        by_email=True,
        actor=archivist,
    )
    for kind in (OutputKind.RECEIPT, OutputKind.ARRIVAL_RECEIPT, OutputKind.QUALITY_REPORT):
        issuing.reissue(interview.outputs.get(kind=kind), reason="The library has moved.", actor=archivist)
    run_jobs()
    workflow.ask_withdrawal(interview.pk, wished_by=NARRATOR, reason="It hurts.", actor=owner)
    workflow.refuse_withdrawal(interview.pk, reason="She changed her mind.", actor=coordinator)
    with at_time(later(days=500)):
        closures.lift_those_due(timezone.localdate())
    workflow.propose_undo(interview.pk, reason="The wrong file.", actor=archivist)
    workflow.confirm_undo(interview.pk, actor=coordinator)


def about_people(owner: User, archivist: User, coordinator: User) -> None:
    people.invite(
        name="Ada", email="ada@example.org", role=Role.VOLUNTEER, actor=coordinator, url_for=lambda token: f"/i/{token}"
    )
    second_step.reset(archivist.pk, actor=coordinator)
    a_started_interview(owner)
    reassigning.hand_over(owner.pk, to=a_user("Ada Quill"), reason="She moved.", has_left=False, actor=coordinator)


@pytest.fixture
def messages(written, folders, archivist, coordinator) -> list[Message]:
    owner = a_user("Tobias Wrenfield")
    before_acceptance(owner, archivist)
    about_a_card(owner, folders)
    after_acceptance(owner, archivist, coordinator)
    about_people(owner, archivist, coordinator)
    assert set(written) == EVERY_MESSAGE, "a message of the site is not written here"
    return list(Message.objects.prefetch_related("attachments"))


def words_of(message: Message) -> str:
    """Subject, text and HTML, without the line that greets whom it is for."""
    email = mail._email_of(message)
    greeting = f"Dear {NARRATOR},"
    return "\n".join([message.subject, str(email.body), str(email.alternatives[0][0])]).replace(greeting, "")


def text_in(file) -> str:
    with serving.open_copy(file) as copy:
        return " ".join(page.extract_text() for page in PdfReader(BytesIO(copy.read())).pages)


def told_in(words: str) -> list[str]:
    return [secret for secret in RESTRICTED if secret in words]


def test_no_message_that_the_site_writes_carries_what_is_restricted(messages):
    leaks = {message.subject: found for message in messages if (found := told_in(words_of(message)))}
    assert leaks == {}


def test_papers_alone_are_attached(messages):
    attached = [file for message in messages for file in message.attachments.all()]
    assert {file.media_type for file in attached} == {"application/pdf"}


def test_what_is_attached_leaves_withheld_names_out_unless_it_is_ones_own(messages):
    outputs = Output.objects.filter(interview__participants__releases__name_withheld=True).distinct()
    papers = {output.file_id: output for output in outputs if Message.objects.filter(attachments=output.file)}
    assert {OutputKind(paper.kind) for paper in papers.values()} == {*PAPERS}
    for paper in papers.values():
        text = text_in(paper.file)
        assert PASSAGE not in text
        if paper.kind in ONES_OWN:
            assert len(issuing.holders_of(paper)) == 1
        else:
            assert "Oskarsen" not in text, paper.kind


def test_the_receipt_says_that_a_name_was_left_out(archivist):
    interview = an_accepted_one(a_user(), archivist)
    accession = interview.accessions.get()
    text = " ".join(text_in(existing(OutputKind.RECEIPT, accession.pk).file).split())
    assert "narrator, name withheld" in text
    assert "A name that its bearer wished withheld is left out of this paper" in text
    assert accession.snapshot["narrators"] == [NARRATOR]
