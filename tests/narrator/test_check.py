"""Checking a paper by its number: whether it was made here, and nothing private."""

import pytest
from django.core.cache import cache
from django.urls import reverse

from intake.jobs.models import Kind
from intake.outputs.models import OutputKind
from intake.outputs.services import check_url, existing
from tests.factories import an_accession, narrator_of, run_jobs
from tests.pages import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def no_tries_counted():
    cache.clear()


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
