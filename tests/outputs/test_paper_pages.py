"""Each paper has a page that says the same, with every letter of every name, for the same people."""

import pytest
from django.urls import reverse
from pypdf import PdfReader

from intake.files import serving
from intake.interviews import participants
from intake.interviews.models import State
from intake.outputs.models import Output, OutputKind
from intake.outputs.services import existing
from tests.factories import (
    a_release_on_paper,
    a_signed_agreement,
    a_signed_release,
    a_started_interview,
    an_interview,
    interviewer_of,
    narrator_of,
    run_jobs,
)
from tests.pages import signed_in, text_of

pytestmark = pytest.mark.django_db
# Arabic and Chinese, which the papers' fonts do not draw.
ODD = "مريم 王 Oskarsen"


@pytest.fixture
def odd(volunteer):
    """A draft whose narrator has a name that no paper can print whole."""
    interview = a_started_interview(volunteer)
    participants.correct_participant(narrator_of(interview).pk, name=ODD, email="", actor=volunteer)
    return interview


def text_in(paper: Output) -> str:
    """What an independent reader (pypdf) finds in the PDF."""
    with serving.open_copy(paper.file) as file:
        return " ".join(" ".join(page.extract_text().split()) for page in PdfReader(file).pages)


def as_page(user, name: str, pk: int) -> str:
    return text_of(signed_in(user).get(reverse(name, args=[pk]), {"as": "page"}))


def test_a_name_that_no_paper_can_print_stands_whole_on_its_page(odd, archivist):
    release = a_signed_release(narrator_of(odd))
    run_jobs()
    printed = text_in(existing(OutputKind.RELEASE_COPY, release.pk))
    assert "shown in full on the web page of this paper" in printed
    page = as_page(archivist, "desk:release-copy", release.pk)
    assert f"Signed by {ODD} (Narrator)" in page
    assert " ".join(release.wording_text.split()) in page
    assert release.wording_sha256 in page.replace(" ", "")


def test_a_release_on_paper_and_an_agreement_have_theirs(odd, archivist):
    on_paper = a_release_on_paper(interviewer_of(odd))
    agreement = a_signed_agreement(narrator_of(odd))
    run_jobs()
    page = as_page(archivist, "desk:release-copy", on_paper.pk)
    assert f"By hand on the printed form {on_paper.signed_form.form.number}" in page
    page = as_page(archivist, "portal:agreement-copy", agreement.pk)
    assert "Signed agreement to take part" in page
    assert "Choices made" not in page


def test_receipts_say_on_their_page_what_they_print(archivist, volunteer):
    interview = an_interview(State.ACCEPTED, owner=volunteer, reviewer=archivist)
    run_jobs()
    accession = interview.accessions.get()
    page = as_page(volunteer, "portal:interview-receipt", interview.pk)
    for fact in (accession.number, accession.receipt_number, "Marit Oskarsen", "TOLL0001.WAV", "Open: anyone"):
        assert fact in page
    arrival = interview.arrivals.get()
    page = as_page(volunteer, "portal:arrival-receipt", arrival.pk)
    assert "It does not say that the library has accepted the interview" in page
    assert arrival.number in page


@pytest.mark.parametrize("kind", [OutputKind.RECEIPT, OutputKind.ARRIVAL_RECEIPT])
def test_the_page_is_for_whoever_may_have_the_paper(kind, archivist, volunteer, other_volunteer):
    interview = an_interview(State.ACCEPTED, owner=volunteer, reviewer=archivist)
    run_jobs()
    assert Output.objects.filter(kind=kind).exists()
    pk = interview.pk if kind == OutputKind.RECEIPT else interview.arrivals.get().pk
    name = "portal:interview-receipt" if kind == OutputKind.RECEIPT else "portal:arrival-receipt"
    assert signed_in(other_volunteer).get(reverse(name, args=[pk]), {"as": "page"}).status_code == 404
