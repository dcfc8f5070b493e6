"""The reviewer takes the interview in: what must hold, and all that follows."""

import hashlib
from io import BytesIO

import pytest
from pypdf import PdfReader

from intake.audit.actions import Action
from intake.audit.services import story_of
from intake.files import storage
from intake.interviews import participants
from intake.interviews.lifecycle import STANDS
from intake.interviews.models import State
from intake.interviews.services import parts_of
from intake.jobs import services as jobs
from intake.jobs.models import Job, JobState, Kind
from intake.mail.models import Message
from intake.outputs.models import Output, OutputKind
from intake.outputs.services import existing
from intake.qc.services import latest_report
from intake.readiness import missing_before_acceptance
from intake.register.models import Accession
from intake.workflow import accept, submit, take_up
from tests.factories import (
    a_bad_reading,
    a_clipped_wav,
    a_part_stored,
    a_signed_release,
    a_started_interview,
    an_interview,
    answer_everything,
    narrator_of,
    run_jobs,
    sign_everybody,
)
from tests.workflow.told import is_now, last_event, refused

pytestmark = pytest.mark.django_db


@pytest.fixture
def ready(volunteer, archivist):
    return an_interview(State.IN_REVIEW, owner=volunteer, reviewer=archivist, ready=True)


@pytest.fixture
def bare(volunteer, archivist):
    """In review, but nobody has signed and nothing is measured."""
    return an_interview(State.IN_REVIEW, owner=volunteer, reviewer=archivist)


def test_an_accepted_interview_has_its_accession(ready, archivist):
    accession = accept(ready.pk, actor=archivist)
    assert is_now(ready) == State.ACCEPTED
    assert accession.interview == ready
    told = {"accession": accession.number, "worth_knowing": ["The reviewer has heard 0 % of the recording."]}
    assert last_event(ready) == (Action.ACCEPTED, archivist, told)
    assert ready.decisions.get().verdict == "accepted"


def test_nothing_is_missing_when_everything_holds(ready):
    assert missing_before_acceptance(ready) == []


def test_all_that_is_missing_is_told_at_once(bare, archivist):
    assert refused(accept, bare.pk, actor=archivist) == (
        "The release of Marit Oskarsen (narrator) is not signed.",
        "The release of Tobias Wrenfield (interviewer) is not signed.",
        "Part 1 is not yet measured.",
    )


def test_each_narrator_must_have_signed(volunteer, archivist):
    interview = a_started_interview(volunteer)
    participants.add_participant(interview.pk, name="Aurel Lindqvist", email="", role="narrator", actor=volunteer)
    a_part_stored(interview)
    run_jobs(Kind.MEASURE_PART)
    for participant in interview.participants.exclude(person__name="Aurel Lindqvist"):
        a_signed_release(participant)
    in_review(interview, archivist)
    assert refused(accept, interview.pk, actor=archivist) == (
        "The release of Aurel Lindqvist (narrator) is not signed.",
    )


def test_a_problem_must_be_answered(volunteer, archivist):
    interview = an_interview(State.IN_REVIEW, owner=volunteer, reviewer=archivist, content=a_clipped_wav())
    run_jobs(Kind.MEASURE_PART)
    sign_everybody(interview)
    (part,) = parts_of(interview)
    title = latest_report(part.file).problems[0]["title"]
    assert refused(accept, interview.pk, actor=archivist) == (f"Part 1: “{title}” is not answered.",)
    answer_everything(interview, archivist)
    assert accept(interview.pk, actor=archivist)


def test_a_problem_in_a_later_part_must_be_answered_too(volunteer, archivist):
    interview = a_started_interview(volunteer)
    a_part_stored(interview)
    a_part_stored(interview, a_clipped_wav())
    run_jobs(Kind.MEASURE_PART)
    sign_everybody(interview)
    in_review(interview, archivist)
    (told,) = refused(accept, interview.pk, actor=archivist)
    assert told.startswith("Part 2: ")


def test_two_copies_that_match_must_be_kept(ready, archivist):
    (part,) = parts_of(ready)
    a_bad_reading(part.file)
    assert refused(accept, ready.pk, actor=archivist) == ("Part 1 is not yet kept in two copies that match.",)


def test_another_archivist_does_not_decide(ready, coordinator):
    assert refused(accept, ready.pk, actor=coordinator) == ("Ines Halloway is reviewing this interview.",)


def test_an_interview_is_accepted_once(ready, archivist):
    accept(ready.pk, actor=archivist)
    assert refused(accept, ready.pk, actor=archivist) == ("This interview has been accepted already.",)
    assert Accession.objects.count() == 1


@pytest.mark.parametrize(
    "state", [State.DRAFT, State.SUBMITTED, State.RETURNED, State.DECLINED, State.WITHDRAWN], ids=str
)
def test_only_what_is_in_review_is_accepted(state, archivist):
    interview = an_interview(state, ready=True)
    (told,) = refused(accept, interview.pk, actor=archivist)
    assert told == STANDS[state]
    assert not Accession.objects.exists()


# The receipt


@pytest.fixture
def accession(ready, archivist):
    return accept(ready.pk, actor=archivist)


def text_of(output: Output) -> str:
    with storage.open_copy("primary", output.file.key) as copy:
        return " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(copy.read())).pages).split())


def test_the_receipt_is_made_by_a_job(accession):
    assert existing(OutputKind.RECEIPT, accession.pk) is None
    (job,) = run_jobs(Kind.MAKE_RECEIPT)
    assert job.state == JobState.DONE
    receipt = existing(OutputKind.RECEIPT, accession.pk)
    assert (receipt.file.media_type, receipt.interview) == ("application/pdf", accession.interview)
    assert story_of(accession.interview).last().action == Action.PAPER_MADE


def test_the_receipt_says_what_was_given_by_whom_on_which_terms(accession):
    run_jobs(Kind.MAKE_RECEIPT)
    text = text_of(existing(OutputKind.RECEIPT, accession.pk))
    (part,) = accession.snapshot["parts"]
    for said in (
        accession.number,
        accession.receipt_number,
        accession.snapshot["title"],
        "Marit Oskarsen",
        "Tobias Wrenfield",
        "Ines Halloway",
        part["name"],
        "Open: anyone may hear it.",
    ):
        assert said in text
    assert part["sha256"] in text.replace(" ", "")


def test_the_receipt_goes_to_the_volunteer_and_to_each_narrator_with_an_address(accession, mailoutbox):
    run_jobs(Kind.MAKE_RECEIPT, Kind.SEND_MESSAGE)
    receipts = [mail for mail in mailoutbox if accession.number in mail.subject]
    assert sorted(mail.to[0] for mail in receipts) == ["marit@example.org", "tobias@example.org"]
    with storage.open_copy("primary", existing(OutputKind.RECEIPT, accession.pk).file.key) as copy:
        paper = copy.read()
    for mail in receipts:
        assert mail.attachments == [(f"receipt-{accession.number}.pdf", paper, "application/pdf")]
        assert accession.receipt_number in mail.body


def test_nobody_gets_two_receipts(volunteer, archivist):
    interview = a_started_interview(volunteer, narrator_email=volunteer.email)
    a_part_stored(interview)
    run_jobs(Kind.MEASURE_PART)
    sign_everybody(interview)
    in_review(interview, archivist)
    accession = accept(interview.pk, actor=archivist)
    run_jobs(Kind.MAKE_RECEIPT)
    assert Message.objects.filter(key__startswith=f"receipt-{accession.pk}-").count() == 1


def test_making_the_receipt_twice_makes_and_sends_it_once(accession, mailoutbox):
    run_jobs(Kind.MAKE_RECEIPT, Kind.SEND_MESSAGE)
    sent = len(mailoutbox)
    again = jobs.enqueue(Kind.MAKE_RECEIPT, accession.pk)
    run_jobs(Kind.MAKE_RECEIPT, Kind.SEND_MESSAGE)
    assert Job.objects.get(pk=again.pk).state == JobState.DONE
    assert Output.objects.filter(kind=OutputKind.RECEIPT).count() == 1
    assert len(mailoutbox) == sent


def test_the_signers_copy_is_made_and_sent(volunteer, mailoutbox):
    interview = a_started_interview(volunteer)
    release = a_signed_release(narrator_of(interview))
    run_jobs()
    copy = existing(OutputKind.RELEASE_COPY, release.pk)
    assert "Marit Oskarsen" in text_of(copy)
    assert release.number in text_of(copy)
    (sent,) = mailoutbox
    assert sent.to == ["marit@example.org"]
    assert hashlib.sha256(sent.attachments[0].content).hexdigest() == copy.file.sha256


def in_review(interview, archivist):
    submit(interview.pk, actor=interview.owner)
    take_up(interview.pk, actor=archivist)
