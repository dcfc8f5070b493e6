"""Checking a paper by its number: whether it was made here, and nothing private."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from intake.files import serving
from intake.interviews.models import State
from intake.jobs.models import Kind
from intake.narrator.queries import SINCE_ARRIVAL
from intake.outputs.models import OutputKind
from intake.outputs.services import check_url, existing
from intake.workflow import submit, withdraw
from tests.factories import an_accession, an_interview, narrator_of, run_jobs
from tests.pages import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def accession():
    return an_accession()


def check(client, number):
    return client.get(reverse("narrator:check-paper", args=[number]))


def test_a_receipt_is_known_with_its_digest(client, accession):
    run_jobs(Kind.MAKE_RECEIPT)
    told = text_of(check(client, accession.receipt_number))
    assert "Acceptance receipt" in told
    assert "made by" in told
    assert accession.number in told
    assert existing(OutputKind.RECEIPT, accession.pk).file.sha256 in told.replace(" ", "")


def test_a_release_is_known(client, accession):
    run_jobs(Kind.MAKE_RELEASE_COPY)
    release = narrator_of(accession.interview).releases.get()
    told = text_of(check(client, release.number))
    assert "Signed release" in told
    assert existing(OutputKind.RELEASE_COPY, release.pk).file.sha256 in told.replace(" ", "")


SINCE = {
    State.SUBMITTED: "has not yet decided",
    State.IN_REVIEW: "being reviewed",
    State.RETURNED: "gone back to the volunteer",
    State.ACCEPTED: "has since accepted the interview",
    State.DECLINED: "has since declined",
}


@pytest.mark.parametrize(("state", "told"), SINCE.items(), ids=str)
def test_an_arrival_receipt_is_known_as_no_acceptance_with_what_became_of_it(client, state, told):
    interview = an_interview(state)
    run_jobs(Kind.MAKE_ARRIVAL_RECEIPT)
    arrival = interview.arrivals.get()
    page = text_of(check(client, arrival.number))
    assert f"Arrival receipt {arrival.number}" in page
    assert "is not an acceptance" in page
    assert told in page
    assert existing(OutputKind.ARRIVAL_RECEIPT, arrival.pk).file.sha256 in page.replace(" ", "")
    private = ["Marit", "Tobias", "Ines", "toll house", "It is not about the crossing", "second voice"]
    if state == State.ACCEPTED:
        accession = interview.accessions.get()
        private += [accession.number, accession.receipt_number]
    for words in private:
        assert words not in page


def test_an_arrival_receipt_tells_of_a_withdrawal(client, volunteer):
    interview = an_interview(State.SUBMITTED, owner=volunteer)
    withdraw(interview.pk, reason="Aurel asked for it.", actor=volunteer)
    page = text_of(check(client, interview.arrivals.get().number))
    assert "has since been withdrawn" in page
    assert "Aurel" not in page


def test_an_arrival_receipt_that_was_replaced_says_so(client, volunteer):
    interview = an_interview(State.RETURNED, owner=volunteer)
    submit(interview.pk, actor=volunteer)
    first, second = interview.arrivals.all()
    assert "A later arrival receipt replaces this one." in text_of(check(client, first.number))
    assert "replaces this one" not in text_of(check(client, second.number))


@pytest.mark.parametrize("state", State)
def test_there_is_a_sentence_for_every_state(state):
    assert SINCE_ARRIVAL[state].endswith(".")


def test_nothing_private_is_told(client, accession):
    release = narrator_of(accession.interview).releases.get()
    for number in (accession.receipt_number, release.number):
        told = text_of(check(client, number))
        for private in ("Marit", "Tobias", "Ines", "toll house", accession.snapshot["title"], "marit@example.org"):
            assert private not in told


def test_a_number_that_nobody_gave_is_unknown(client, accession):
    answer = check(client, "R-2222-2222-2222")
    assert answer.status_code == 404
    assert "No paper of this library has the number R-2222-2222-2222" in text_of(answer)


def test_the_address_on_the_paper_leads_here(client, accession, settings):
    address = check_url(accession.receipt_number)
    assert address.startswith(settings.SITE_URL)
    assert client.get(address.removeprefix(settings.SITE_URL)).status_code == 200


def typed(client, number):
    return client.get(reverse("narrator:check"), {"number": number}, follow=True)


@pytest.mark.parametrize(
    "as_typed", [str, str.lower, lambda number: f" {number} ", lambda number: number.replace("-", "")]
)
def test_a_number_is_found_however_it_is_typed(client, accession, as_typed):
    assert "Acceptance receipt" in text_of(typed(client, as_typed(accession.receipt_number)))


@pytest.mark.parametrize("nonsense", ["/", "//", "-", "..", "?", "#", "<b>", "R", "ü", "%2f", "R-2222/2222"])
def test_nonsense_is_answered_with_a_page(client, nonsense):
    answer = typed(client, nonsense)
    assert answer.status_code in {200, 404}
    assert "<b>" not in text_of(answer) or nonsense == "<b>"
    assert "<b></" not in answer.content.decode()


def test_nothing_typed_shows_the_form_alone(client):
    answer = client.get(reverse("narrator:check"))
    assert answer.status_code == 200
    assert "No paper" not in text_of(answer)


def test_guessing_is_ended_after_some_tries(client, accession):
    for _ in range(10):
        check(client, "R-2222-2222-2222")
    answer = check(client, accession.receipt_number)
    assert answer.status_code == 429
    assert "too many tries" in text_of(answer)
    assert accession.number not in text_of(answer)


# The paper as a file


def pdf_of(accession) -> bytes:
    run_jobs(Kind.MAKE_RECEIPT)
    with serving.open_copy(existing(OutputKind.RECEIPT, accession.pk).file) as file:
        return file.read()


def check_file(client, content: bytes):
    return client.post(reverse("narrator:check-file"), {"paper": SimpleUploadedFile("paper.pdf", content)})


def test_a_file_is_known_byte_for_byte_and_nothing_private_is_told(client, accession):
    answer = check_file(client, pdf_of(accession))
    assert "This file is, byte for byte, a paper that was made here." in text_of(answer)
    assert "Oskarsen" not in text_of(answer)
    assert accession.number not in text_of(answer)


def test_a_changed_file_is_told_to_be_changed(client, accession):
    pdf = bytearray(pdf_of(accession))
    pdf[4000] ^= 1
    told = text_of(check_file(client, bytes(pdf)))
    assert "is not that paper any more" in told
    assert "changed after it was signed" in told


@pytest.mark.parametrize("content", [b"%PDF-1.7\n%%EOF", b"GIF89a", b"/Contents <" + b"30" * 400 + b">"])
def test_any_other_file_was_not_made_here(client, accession, content):
    assert "This file was not made here" in text_of(check_file(client, content))


def test_no_file_is_told_at_the_field_and_trying_on_and_on_is_ended(client):
    assert client.post(reverse("narrator:check-file")).status_code == 422
    for _ in range(10):
        assert check_file(client, b"GIF89a").status_code == 200
    answer = check_file(client, b"GIF89a")
    assert (answer.status_code, "too many tries" in text_of(answer)) == (429, True)
