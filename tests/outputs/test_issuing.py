"""The papers of an interview: each has its holders, is sent to them alone, and is issued again as the next version."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import IntegrityError, transaction
from django.urls import reverse

from intake import workflow
from intake.audit.actions import Action
from intake.audit.models import Event
from intake.errors import Refused
from intake.files import serving
from intake.interviews.models import State
from intake.jobs.models import Job, Kind
from intake.mail.models import Message
from intake.outputs import issuing, letters
from intake.outputs.evidence import check_paper
from intake.outputs.models import LetterKind, Output, OutputKind, Reissue
from intake.outputs.services import existing
from intake.people.models import Person
from tests.factories import a_user, an_accession, an_interview, narrator_of, run_jobs
from tests.outputs.test_paper_pages import text_in
from tests.pages import text_of

pytestmark = pytest.mark.django_db
MAKING = [Kind.MAKE_RECEIPT, Kind.MAKE_ARRIVAL_RECEIPT, Kind.MAKE_RELEASE_COPY, Kind.MAKE_LETTER]


@pytest.fixture
def accession(archivist, volunteer):
    made = an_accession(owner=volunteer, reviewer=archivist)
    run_jobs(*MAKING, Kind.MAKE_QUALITY_REPORT)
    return made


@pytest.fixture
def receipt(accession) -> Output:
    return existing(OutputKind.RECEIPT, accession.pk)


def again(paper: Output, actor, *, reason: str = "The library has moved.", **changed: str) -> Output:
    issuing.reissue(paper, reason=reason, actor=actor, **changed)
    run_jobs(Kind.REISSUE_PAPER)
    return existing(paper.kind, paper.subject_id)


def check(client, number: str) -> str:
    return text_of(client.get(reverse("narrator:check-paper", args=[number])))


def check_file(client, paper: Output) -> str:
    with serving.open_copy(paper.file) as file:
        sent = SimpleUploadedFile("paper.pdf", file.read())
    return text_of(client.post(reverse("narrator:check-file"), {"paper": sent}))


def test_every_paper_of_an_interview_is_listed_with_what_it_is(accession):
    titles = {row.title for row in issuing.papers_of(accession.interview)}
    number = accession.interview.arrivals.get().number
    assert {
        f"Acceptance receipt {accession.receipt_number}",
        f"Arrival receipt {number}",
        "Quality report of part 1",
    } <= titles
    assert sum(title.startswith("Signer's copy of a release") for title in titles) == 2


def test_the_acceptance_has_what_was_measured_printed_by_itself(accession):
    (report,) = accession.interview.outputs.filter(kind=OutputKind.QUALITY_REPORT)
    text = text_in(report)
    assert accession.number in text
    assert "TOLL0001.WAV" in text
    assert "LUFS" in text


def test_a_new_version_says_that_it_is_one_and_the_first_stays(receipt, archivist):
    newest = again(receipt, archivist)
    assert (newest.version, newest.file.name) == (2, receipt.file.name.replace(".pdf", "-version-2.pdf"))
    text = text_in(newest)
    assert "Version 2 of this paper" in text
    assert "Why: The library has moved." in text
    assert "Version" not in text_in(receipt)
    assert [line.fault for line in check_paper(newest)] == [""] * 2
    assert [line.fault for line in check_paper(receipt)] == [""] * 2


def test_a_receipt_names_things_as_they_are_called_now_and_keeps_what_was_accepted(accession, receipt, archivist):
    narrator = narrator_of(accession.interview)
    Person.objects.filter(pk=narrator.person_id).update(name="Marit Oskarssen")
    text = text_in(again(receipt, archivist, reason="Her name has two s."))
    assert "Marit Oskarssen" in text
    assert accession.number in text
    assert accession.snapshot["parts"][0]["sha256"][:4] in text
    assert "Marit Oskarsen" in text_in(receipt)
    accession.refresh_from_db()
    assert accession.snapshot["narrators"] == ["Marit Oskarsen"]  # the register is not rewritten


def test_a_letter_is_issued_again_with_other_words(accession, archivist):
    person = narrator_of(accession.interview).person
    written = letters.write_letter(
        accession.interview_id,
        kind=LetterKind.THANKS,
        person=person,
        language="en",
        text="Dear Martin",
        by_email=False,
        actor=archivist,
    )
    run_jobs(Kind.MAKE_LETTER)
    paper = existing(OutputKind.LETTER, written.pk)
    second = again(paper, archivist, reason="The name was wrong.", text="Dear Marit")
    newest = again(second, archivist, reason="The paper was torn.")
    assert ["Dear Martin" in text_in(made) for made in (paper, second, newest)] == [True, False, False]
    assert "Version 3 of this paper" in text_in(newest)
    assert "Why: The paper was torn." in text_in(newest)
    written.refresh_from_db()
    assert written.text == "Dear Martin"


def test_the_new_version_goes_to_everybody_whom_the_paper_is_for(accession, receipt, archivist, volunteer):
    newest = again(receipt, archivist)
    messages = Message.objects.filter(attachments=newest.file)
    assert {message.to for message in messages} == {"marit@example.org", volunteer.email}
    assert all("version 2 and replaces" in message.text for message in messages)
    assert all("The library has moved." in message.text for message in messages)


def test_whoever_checks_the_number_or_an_old_file_hears_that_it_was_replaced(client, accession, receipt, archivist):
    assert "Version" not in check(client, accession.receipt_number)
    assert "replaced" not in check_file(client, receipt)
    newest = again(receipt, archivist)
    assert "Version 2 is the one that holds now" in check(client, accession.receipt_number)
    assert "A later version has replaced it" in check_file(client, receipt)
    assert "replaced" not in check_file(client, newest)


def test_the_check_page_knows_a_letter_as_ours_and_names_nobody(client, archivist):
    interview = an_interview(State.DECLINED, reviewer=archivist)
    run_jobs(Kind.MAKE_LETTER)
    told = check_file(client, interview.outputs.get(kind=OutputKind.LETTER))
    assert "byte for byte, a paper that was made here" in told
    assert "Oskarsen" not in told


def test_a_version_that_is_being_made_is_not_asked_for_twice(receipt, archivist):
    issuing.reissue(receipt, reason="Once.", actor=archivist)
    with pytest.raises(Refused, match="being made already"):
        issuing.reissue(receipt, reason="Twice.", actor=archivist)
    (row,) = [row for row in issuing.papers_of(receipt.interview) if row.newest == receipt]
    assert row.coming.version == 2


def test_only_the_newest_version_is_issued_again(receipt, archivist):
    again(receipt, archivist)
    with pytest.raises(Refused, match="Only the newest"):
        issuing.reissue(receipt, reason="x", actor=archivist)


def test_the_receipt_of_an_undone_acceptance_is_not_issued_again(accession, receipt, archivist, coordinator):
    workflow.propose_undo(accession.interview_id, reason="A mistake.", actor=archivist)
    workflow.confirm_undo(accession.interview_id, actor=coordinator)
    with pytest.raises(Refused, match="undone"):
        issuing.reissue(receipt, reason="x", actor=archivist)


def test_an_arrival_receipt_that_was_replaced_is_not_issued_again(archivist, volunteer):
    interview = an_interview(State.RETURNED, owner=volunteer, reviewer=archivist)
    first = interview.arrivals.get()
    workflow.submit(interview.pk, actor=volunteer)
    run_jobs(Kind.MAKE_ARRIVAL_RECEIPT)
    with pytest.raises(Refused, match="A later arrival receipt has replaced this one"):
        issuing.reissue(existing(OutputKind.ARRIVAL_RECEIPT, first.pk), reason="x", actor=archivist)


def test_a_new_version_needs_a_reason(receipt, archivist):
    with pytest.raises(Refused, match="Say why"):
        issuing.reissue(receipt, reason=" ", actor=archivist)


def test_a_volunteer_issues_and_sends_nothing(receipt):
    with pytest.raises(Refused, match="staff"):
        issuing.reissue(receipt, reason="x", actor=a_user())
    with pytest.raises(Refused, match="staff"):
        issuing.send_paper(receipt, to=["marit@example.org"], actor=a_user())


def test_the_job_that_is_done_twice_makes_one_paper(receipt, archivist):
    asked = issuing.reissue(receipt, reason="x", actor=archivist)
    run_jobs(Kind.REISSUE_PAPER)
    Job.objects.filter(kind=Kind.REISSUE_PAPER).update(state="waiting")
    run_jobs(Kind.REISSUE_PAPER)
    assert Output.objects.filter(kind=asked.kind, subject_id=asked.subject_id, version=2).count() == 1
    assert Event.objects.filter(action=Action.PAPER_MADE, details__version=2).count() == 1


def test_the_database_keeps_one_row_a_version_and_the_first_is_no_reissue(receipt, archivist):
    asked = issuing.reissue(receipt, reason="x", actor=archivist)
    for change in ({"version": asked.version}, {"version": 1}, {"version": 3, "reason": ""}):
        with pytest.raises(IntegrityError), transaction.atomic():
            Reissue.objects.create(
                **{
                    "kind": asked.kind,
                    "subject_id": asked.subject_id,
                    "version": 4,
                    "interview": asked.interview,
                    "reason": "x",
                    "asked_by": archivist,
                    "asked_at": asked.asked_at,
                    **change,
                }
            )


def test_a_paper_is_sent_to_those_whom_it_is_for_and_to_nobody_else(accession, archivist):
    release = narrator_of(accession.interview).releases.get()
    paper = existing(OutputKind.RELEASE_COPY, release.pk)
    Person.objects.filter(pk=release.participant.person_id).update(email="oskarsen@example.org")  # she has a new one
    assert [holder.address for holder in issuing.holders_of(paper)] == ["oskarsen@example.org"]
    (message,) = issuing.send_paper(paper, to=["oskarsen@example.org", "else@example.org"], actor=archivist)
    assert (message.to, list(message.attachments.all())) == ("oskarsen@example.org", [paper.file])
    for other in ("else@example.org", "marit@example.org", "oskarsen@example.org"):
        with pytest.raises(Refused, match="somebody whom the paper is for, and to whom it was not sent yet"):
            issuing.send_paper(paper, to=[other], actor=archivist)
    assert Event.objects.filter(action=Action.PAPER_SENT).count() == 1


def test_the_papers_of_a_withdrawn_interview_are_sent_to_nobody(archivist, volunteer):
    interview = an_interview(State.SUBMITTED, owner=volunteer)
    run_jobs(Kind.MAKE_ARRIVAL_RECEIPT)
    workflow.withdraw(interview.pk, reason="x", actor=volunteer)
    paper = Output.objects.get(kind=OutputKind.ARRIVAL_RECEIPT)
    with pytest.raises(Refused, match="withdrawn"):
        issuing.send_paper(paper, to=[volunteer.email], actor=archivist)


def test_a_quality_report_that_is_issued_again_says_the_same_measures(accession, archivist):
    (report,) = accession.interview.outputs.filter(kind=OutputKind.QUALITY_REPORT)
    again_told = text_in(again(report, archivist, reason="The printer had no ink."))
    measures = text_in(report).split("All measures")[1].split("What was heard")[0]
    assert "LUFS" in measures
    assert [line for line in measures.split("Quality report")[0].split() if line not in again_told.split()] == []
