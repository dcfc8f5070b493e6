"""Past imports at the desk: how far they came, and what became of each row."""

import pytest
from django.urls import reverse

from intake.backlog.models import BacklogImport
from intake.backlog.services import take_in
from tests.backlog.folder import a_folder, check
from tests.pages import links_of, signed_in, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def done(tmp_path, archivist) -> BacklogImport:
    """Two rows, of which the second is not the file that the CSV means."""
    folder = a_folder(tmp_path, "tape1.wav", "tape2.wav")
    plan = check(folder, {}, {"files": "tape2.wav", "sha256": "0" * 64})
    take_in(plan, actor=archivist, submit=False, say=lambda sentence: None)
    return BacklogImport.objects.get()


def test_without_imports_the_page_says_so(archivist):
    assert "No back-log has been taken in yet." in text_of(signed_in(archivist).get(reverse("desk:imports")))


def test_an_import_is_listed_with_its_figures(done, archivist):
    shown = signed_in(archivist).get(reverse("desk:imports"))
    assert reverse("desk:import-detail", args=[done.pk]) in links_of(shown)
    told = text_of(shown)
    for said in ("back-log.csv", "Ines Halloway", "2 of 2", "12.8 kB", "Ended"):
        assert said in told


def test_each_row_says_what_became_of_it(done, archivist):
    shown = signed_in(archivist).get(reverse("desk:import-detail", args=[done.pk]))
    told = text_of(shown)
    interview = done.rows.get(number=2).interview
    assert reverse("desk:interview-detail", args=[interview.pk]) in links_of(shown)
    assert "Not taken" in told
    assert "“tape2.wav” is not the file that the CSV means" in told
    assert "1 became interviews" in told


def test_one_that_was_interrupted_says_how_to_go_on(done, archivist):
    BacklogImport.objects.update(finished_at=None)
    told = text_of(signed_in(archivist).get(reverse("desk:import-detail", args=[done.pk])))
    assert "Running, or interrupted; last row" in told
    assert "Started again, the same command goes on." in told
