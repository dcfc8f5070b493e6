"""The page of an interview's papers: what there is, to whom it went, and what staff do with it."""

import pytest
from django.urls import reverse

from intake.interviews.models import State
from intake.jobs.models import Job, Kind
from intake.mail.models import Message
from intake.outputs.models import Letter, Output, OutputKind
from intake.outputs.services import existing
from intake.people.models import Person
from tests.factories import an_accession, an_interview, narrator_of, run_jobs
from tests.pages import links_of, signed_in, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def accession(archivist, volunteer):
    made = an_accession(owner=volunteer, reviewer=archivist)
    run_jobs()
    return made


@pytest.fixture
def desk(archivist):
    return signed_in(archivist)


@pytest.fixture
def receipt(accession) -> Output:
    return existing(OutputKind.RECEIPT, accession.pk)


def listed(desk, interview) -> str:
    return text_of(desk.get(reverse("desk:interview-papers", args=[interview.pk])))


def to_narrator(accession) -> str:
    return reverse("desk:letter-write", args=[accession.interview_id, narrator_of(accession.interview).person_id])


def test_the_review_page_leads_to_the_papers(desk, accession):
    page = desk.get(reverse("desk:interview-detail", args=[accession.interview_id]))
    assert reverse("desk:interview-papers", args=[accession.interview_id]) in links_of(page)


def test_after_the_acceptance_the_next_step_is_to_thank_the_narrator_once(desk, accession):
    page = reverse("desk:interview-detail", args=[accession.interview_id])
    assert "Thank the narrator by letter" in text_of(desk.get(page))
    desk.post(to_narrator(accession), {"text": "Dear Marit", "language": "en"})
    assert "Thank the narrator by letter" not in text_of(desk.get(page))


def test_each_paper_says_to_whom_it_went_and_how(desk, accession):
    page = listed(desk, accession.interview)
    assert f"Acceptance receipt {accession.receipt_number}" in page
    assert "To marit@example.org" in page
    assert "Sent" in page
    assert "Quality report of part 1" in page


def test_a_letter_begins_with_the_librarys_text_in_the_language_asked_for(desk, accession):
    page = desk.get(to_narrator(accession))
    assert "Dear Marit Oskarsen," in page.content.decode()
    assert accession.number in page.content.decode()
    spanish = desk.get(to_narrator(accession), {"language": "es"})
    assert "Estimada/o Marit Oskarsen" in spanish.content.decode()
    assert 'name="language" value="es"' in spanish.content.decode()


def test_a_letter_is_looked_at_before_it_is_made(desk, accession):
    answer = desk.post(to_narrator(accession), {"text": "Dear Marit,\n\nthanks.", "language": "en", "preview": "1"})
    assert "How it reads Dear Marit, thanks." in text_of(answer)
    assert not Letter.objects.exists()


def test_a_letter_is_made_listed_and_sent(desk, accession):
    sent = {"text": "Dear Marit,\n\nthanks.", "language": "en", "by_email": "on", "form_key": "k"}
    answer = desk.post(to_narrator(accession), sent)
    assert answer.headers["Location"] == reverse("desk:interview-papers", args=[accession.interview_id])
    desk.post(to_narrator(accession), sent)  # a double click
    assert Letter.objects.count() == 1
    run_jobs()
    assert "Thank-you letter to Marit Oskarsen" in listed(desk, accession.interview)
    assert Message.objects.filter(subject="A letter to you, from Your library").count() == 1


def test_without_an_address_the_letter_is_for_printing(desk, accession):
    Person.objects.update(email="")
    assert "by e-mail" not in text_of(desk.get(to_narrator(accession)))
    desk.post(to_narrator(accession), {"text": "Dear Marit", "language": "en", "by_email": "on"})
    assert Letter.objects.get().by_email is False


def test_nobody_else_and_no_other_stage_has_a_page_for_a_letter(desk, accession, archivist):
    other = an_interview(State.SUBMITTED)
    assert desk.get(reverse("desk:letter-write", args=[other.pk, other.given_by_id])).status_code == 404
    stranger = reverse("desk:letter-write", args=[accession.interview_id, other.given_by_id])
    assert desk.get(stranger).status_code == 404


def test_an_empty_letter_is_asked_for_beside_its_field(desk, accession):
    answer = desk.post(to_narrator(accession), {"text": "", "language": "en"})
    assert answer.status_code == 200
    assert not Letter.objects.exists()


def test_a_paper_is_opened_as_pdf_and_as_a_page(desk, receipt, accession):
    pdf = desk.get(reverse("desk:paper", args=[receipt.pk]))
    assert (pdf.status_code, pdf["Content-Type"]) == (200, "application/pdf")
    assert accession.receipt_number in text_of(desk.get(reverse("desk:paper", args=[receipt.pk]), {"as": "page"}))


def test_the_page_of_a_quality_report_says_what_was_measured(desk, accession):
    report = accession.interview.outputs.get(kind=OutputKind.QUALITY_REPORT)
    page = text_of(desk.get(reverse("desk:paper", args=[report.pk]), {"as": "page"}))
    for fact in ("TOLL0001.WAV", "LUFS", "All measures", "This report advises. People decide"):
        assert fact in page


def test_the_page_of_a_letter_says_its_words_in_its_language(desk, archivist):
    interview = an_interview(State.DECLINED, reviewer=archivist)
    run_jobs()
    paper = interview.outputs.get(kind=OutputKind.LETTER)
    page = desk.get(reverse("desk:paper", args=[paper.pk]), {"as": "page"})
    assert "It is not about the crossing." in text_of(page)
    assert '<div lang="en">' in page.content.decode()


def test_a_listening_copy_is_no_paper(desk, accession):
    copy = accession.interview.outputs.get(kind=OutputKind.LISTENING_COPY)
    for name in ("paper", "paper-send", "paper-reissue"):
        assert desk.get(reverse(f"desk:{name}", args=[copy.pk])).status_code == 404


@pytest.fixture
def report(accession) -> Output:
    return accession.interview.outputs.get(kind=OutputKind.QUALITY_REPORT)


def test_a_paper_is_sent_to_whoever_is_chosen_and_then_again_from_its_message(desk, report, volunteer):
    page = reverse("desk:paper-send", args=[report.pk])
    assert volunteer.email in text_of(desk.get(page))
    assert desk.post(page, {"to": [volunteer.email]}).status_code == 302
    run_jobs()
    message = Message.objects.get(attachments=report.file)
    assert (message.to, message.subject) == (volunteer.email, "A quality report, from Your library")
    again = desk.get(page)
    assert f"{volunteer.email}: sent ; from there it can be sent once more" in text_of(again)
    assert "Send it to" not in text_of(again)
    desk.post(page, {"to": [volunteer.email]})
    assert Message.objects.filter(attachments=report.file).count() == 1


def test_whoever_has_no_address_is_named_and_cannot_be_chosen(desk, receipt):
    Person.objects.update(email="")
    page = text_of(desk.get(reverse("desk:paper-send", args=[receipt.pk])))
    assert "Marit Oskarsen has no e-mail address here" in page


def test_nobody_is_chosen_or_somebody_else_is(desk, report):
    assert "Choose who gets it." in text_of(desk.post(reverse("desk:paper-send", args=[report.pk]), {"form_key": "k"}))
    before = Message.objects.count()
    desk.post(reverse("desk:paper-send", args=[report.pk]), {"to": ["else@example.org"]})
    assert Message.objects.count() == before


def test_a_receipt_is_issued_again_and_both_versions_are_listed(desk, receipt, accession):
    page = reverse("desk:paper-reissue", args=[receipt.pk])
    assert "The new receipt names people, title and place as they are called now" in text_of(desk.get(page))
    desk.post(page, {"reason": "The library has moved."})
    assert "Version 2 is being made" in listed(desk, accession.interview)
    run_jobs()
    told = listed(desk, accession.interview)
    assert "version 2" in told
    assert "Version 1, replaced" in told
    newest = existing(OutputKind.RECEIPT, accession.pk)
    page = text_of(desk.get(reverse("desk:paper", args=[newest.pk]), {"as": "page"}))
    assert "Version 2 of this paper" in page
    assert "Why: The library has moved." in page


def test_a_letter_is_issued_again_with_its_words_to_change(desk, archivist):
    interview = an_interview(State.DECLINED, reviewer=archivist)
    run_jobs()
    paper = interview.outputs.get(kind=OutputKind.LETTER)
    page = reverse("desk:paper-reissue", args=[paper.pk])
    assert "It is not about the crossing." in desk.get(page).content.decode()
    desk.post(page, {"reason": "Kinder words.", "text": "Dear Tobias, we thank you."})
    run_jobs()
    newest = existing(OutputKind.LETTER, paper.subject_id)
    assert "we thank you" in text_of(desk.get(reverse("desk:paper", args=[newest.pk]), {"as": "page"}))


def test_a_quality_report_is_printed_before_the_acceptance_too(desk, archivist, volunteer):
    interview = an_interview(State.IN_REVIEW, owner=volunteer, reviewer=archivist, ready=True)
    part = interview.parts.get()
    assert "Make that of part 1" in listed(desk, interview)
    desk.post(reverse("desk:quality-report", args=[part.pk]))
    run_jobs(Kind.MAKE_QUALITY_REPORT)
    told = listed(desk, interview)
    assert "Quality report of part 1" in told
    assert "Make that of part 1" not in told


def test_what_is_not_measured_yet_has_no_report(desk, archivist, volunteer):
    part = an_interview(State.SUBMITTED, owner=volunteer).parts.get()
    answer = desk.post(reverse("desk:quality-report", args=[part.pk]), follow=True)
    assert "has not been measured yet" in text_of(answer)
    assert not Job.objects.filter(kind=Kind.MAKE_QUALITY_REPORT).exists()


def test_labels_come_as_a_pdf_and_a_wrong_number_is_told_beside_its_field(desk, accession):
    page = reverse("desk:labels", args=[accession.interview_id])
    pdf = desk.post(page, {"papers": "1", "copies": "2", "first": "23"})
    assert pdf.content.startswith(b"%PDF")
    assert "less than or equal to 24" in text_of(desk.post(page, {"papers": "1", "copies": "2", "first": "25"}))
    assert "Ask for 1 to 120 labels" in text_of(desk.post(page, {"papers": "0", "copies": "0", "first": "1"}))


def test_there_are_no_labels_before_the_acceptance(desk, volunteer):
    interview = an_interview(State.SUBMITTED, owner=volunteer)
    assert desk.get(reverse("desk:labels", args=[interview.pk])).status_code == 404
    assert "Print labels" not in listed(desk, interview)


def test_the_coordinator_reads_previews_and_changes_the_texts_of_letters(coordinator):
    browser = signed_in(coordinator)
    page = reverse("desk:letter-text-change", args=["thanks", "en"])
    assert reverse("desk:letter-texts") in links_of(browser.get(reverse("desk:set-up")))
    assert page in links_of(browser.get(reverse("desk:letter-texts")))
    preview = browser.post(page, {"text": "Dear {name}, {accession} is kept.", "preview": "1"})
    assert "Dear Marit Oskarsen, 2026.001 is kept." in text_of(preview)
    refused = browser.post(page, {"text": "Dear {sinner}"})
    assert "Nothing stands in for {sinner}" in text_of(refused)
    browser.post(page, {"text": "Dear {name}, ours."})
    assert "The library's own text. Dear {name}, ours." in text_of(browser.get(reverse("desk:letter-texts")))
    assert browser.get(reverse("desk:letter-text-change", args=["thanks", "xx"])).status_code == 404
