"""A signer's own copy: by a private link once the interview is accepted, or noted as given by hand."""

import re

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from intake import workflow
from intake.audit.actions import Action
from intake.errors import Refused
from intake.interviews.models import State
from intake.interviews.services import parts_of
from intake.mail.models import Message
from intake.outputs.models import OutputKind
from intake.outputs.private_links import note_copy_given, send_link_to_copy
from intake.outputs.services import existing
from intake.releases.models import Access
from tests.factories import an_interview, interviewer_of, narrator_of, run_jobs
from tests.pages import links_of, signed_in, text_of
from tests.workflow.told import last_event

pytestmark = pytest.mark.django_db


@pytest.fixture
def accepted(archivist):
    until = timezone.localdate().replace(year=timezone.localdate().year + 5, day=1)
    interview = an_interview(
        State.ACCEPTED, reviewer=archivist, chosen={"access": Access.CLOSED, "closed_until": until}
    )
    person = narrator_of(interview).person
    person.email = "marit@example.org"
    person.save()
    run_jobs()
    return interview


@pytest.fixture
def narrator(accepted):
    return narrator_of(accepted)


@pytest.fixture
def opened(narrator, archivist) -> Client:
    signed_in(archivist).post(reverse("desk:narrators-copy-link", args=[narrator.pk]))
    (address,) = re.findall(r"/link/\S+", Message.objects.get(subject__startswith="Your copy of the recording").text)
    browser = Client()
    assert "A recording for Marit Oskarsen" in text_of(browser.get(address))
    assert browser.post(address)["Location"] == reverse("narrator:copies")
    return browser


def test_a_narrator_takes_their_own_copy_though_it_is_closed_to_others(opened, accepted):
    (part,) = parts_of(accepted)
    page = reverse("narrator:copy-of-part", args=[part.pk])
    assert page in opened.get(reverse("narrator:copies")).content.decode()
    answer = opened.get(page)
    assert answer["Content-Type"] == "audio/mpeg"
    assert b"".join(answer.streaming_content)[:3] == b"ID3"


def papers_in(page) -> list[str]:
    return [link for link in links_of(page) if link.startswith("/copies/papers/") and "?" not in link]


def test_without_an_account_they_read_their_papers_as_pdf_and_as_pages(opened, accepted, narrator):
    page = opened.get(reverse("narrator:copies"))
    release, accession = narrator.releases.get(), accepted.accessions.get()
    told = text_of(page)
    assert f"Signer's copy of a release {release.number}, Marit Oskarsen (PDF)" in told
    assert f"Acceptance receipt {accession.receipt_number} (PDF)" in told
    assert "Tobias Wrenfield" not in told  # the interviewer's release is the interviewer's
    assert len(papers_in(page)) == 2
    for link in papers_in(page):
        assert opened.get(link)["Content-Type"] == "application/pdf"
        assert opened.get(link, {"as": "page"})["Content-Type"].startswith("text/html")


def test_nobody_elses_paper_is_opened_by_the_link(opened, accepted):
    others = interviewer_of(accepted).releases.get()
    paper = existing(OutputKind.RELEASE_COPY, others.pk)
    assert opened.get(reverse("narrator:own-paper", args=[paper.pk])).status_code == 404
    report = accepted.outputs.get(kind=OutputKind.QUALITY_REPORT)
    assert opened.get(reverse("narrator:own-paper", args=[report.pk])).status_code == 404


def test_the_link_opens_that_one_interview_and_no_other(opened, archivist):
    (other,) = parts_of(an_interview(State.ACCEPTED, reviewer=archivist))
    run_jobs()
    assert opened.get(reverse("narrator:copy-of-part", args=[other.pk])).status_code == 404
    assert Client().get(reverse("narrator:copies")).status_code == 410


def test_a_request_to_withdraw_stops_it_at_once(opened, accepted, archivist):
    workflow.ask_withdrawal(accepted.pk, wished_by="Tobias", reason="x", actor=archivist)
    (part,) = parts_of(accepted)
    assert opened.get(reverse("narrator:copy-of-part", args=[part.pk])).status_code == 403
    assert "has not decided yet" in text_of(opened.get(reverse("narrator:copies")))


def test_what_is_given_by_hand_is_tracked(narrator, archivist):
    browser, page = signed_in(archivist), reverse("desk:narrators-copy", args=[narrator.pk])
    browser.post(page, {"on": timezone.localdate().isoformat(), "carrier": "A memory stick"})
    assert last_event(narrator.interview)[0] == Action.COPY_GIVEN
    assert "A memory stick" in text_of(browser.get(page))


def test_nothing_is_handed_out_before_acceptance_or_by_others(narrator, volunteer, archivist):
    early = narrator_of(an_interview(State.IN_REVIEW, ready=True))
    for give in (
        lambda: send_link_to_copy(early.pk, actor=archivist),
        lambda: note_copy_given(early.pk, on=timezone.localdate(), carrier="x", actor=archivist),
    ):
        with pytest.raises(Refused, match="has not accepted this interview yet"):
            give()
    with pytest.raises(Refused, match="Only the library's staff"):
        send_link_to_copy(narrator.pk, actor=volunteer)
    with pytest.raises(Refused, match="Say on what"):
        note_copy_given(narrator.pk, on=timezone.localdate(), carrier=" ", actor=archivist)
