"""The set-up page and the checklist on the coordinator's desk."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from intake.interviews import services as interviews
from intake.library import services as libraries
from intake.library.models import Step
from intake.releases.models import Wording
from intake.releases.wordings import put_into_force, wording_for
from tests.factories import a_user
from tests.pages import links_of, signed_in, text_of

pytestmark = pytest.mark.django_db
KIND = {"moment": "release", "role": "narrator", "language": "en", "basis": "licence"}
LIBRARY = {
    "name": "Alder Ferry Public Library",
    "room": "Local History Room",
    "place": "Alder Ferry",
    "contact": "3 Landing Lane",
    "email": "history@alderferry.example.org",
}


@pytest.fixture
def desk(coordinator):
    return signed_in(coordinator)


def still_to_do(answer) -> list[str]:
    return text_of(answer).split("To do: ")[1:]


def test_the_coordinators_desk_lists_what_is_still_to_set_up_with_a_link_each(desk):
    home = desk.get(reverse("desk:queue"))
    assert "What is still to set up" in text_of(home)
    names = ["set-up-library", "set-up-logo", "set-up-mail", "set-up-numbers", "collections", "wordings"]
    assert {reverse(f"desk:{name}") for name in names} <= links_of(home)


def test_other_staff_are_not_asked_to_set_up(archivist):
    assert "still to set up" not in text_of(signed_in(archivist).get(reverse("desk:queue")))


def test_each_step_is_saved_by_itself_and_the_list_goes_when_all_are_done(desk, coordinator, settings):
    settings.EMAIL_BY_ENVIRONMENT, settings.EMAIL_HOST = True, "mail.example.org"
    overview = reverse("desk:set-up")
    left = len(still_to_do(desk.get(overview)))
    steps = [
        (reverse("desk:set-up-library"), LIBRARY),
        (reverse("desk:set-up-no-logo"), {}),
        (reverse("desk:set-up-numbers"), {"pattern": "OH-{sequence:05d}", "copy_names": "{accession}_{part}"}),
        (reverse("desk:collections"), {"name": "Both Banks"}),
        (reverse("desk:wordings-are-right"), {}),
    ]
    for url, data in steps:
        desk.post(url, data)
        left -= 1
        assert len(still_to_do(desk.get(overview))) == left, url
    assert left == 0
    assert "still to set up" not in text_of(desk.get(reverse("desk:queue")))


def test_pages_bear_the_librarys_name_at_once(desk):
    desk.post(reverse("desk:set-up-library"), LIBRARY)
    page = text_of(desk.get(reverse("portal:home")))
    assert "Alder Ferry Public Library Local History Room" in page
    assert "history@alderferry.example.org" in page


def test_the_example_follows_what_is_typed(desk):
    url = reverse("desk:set-up-number-example")
    assert "would be OH-001" in text_of(desk.get(url, {"pattern": "OH-{sequence:03d}"}))
    assert "needs {sequence}" in text_of(desk.get(url, {"pattern": "OH"}))


def test_a_pattern_that_cannot_be_used_is_told_at_the_form(desk):
    answer = desk.post(reverse("desk:set-up-numbers"), {"pattern": "{month}{sequence}"})
    assert "only {year} and {sequence} are filled in" in text_of(answer)
    assert Step.NUMBERS not in libraries.current().settled


def test_a_picture_that_cannot_be_read_is_told_at_the_form(desk):
    answer = desk.post(reverse("desk:set-up-logo"), {"logo": SimpleUploadedFile("logo.svg", b"<svg/>")})
    assert "not a PNG or JPEG picture" in text_of(answer)


def test_the_librarys_own_wording_is_a_new_version_and_what_is_signed_next(desk):
    starter = wording_for("release", "narrator", "en")
    page = desk.get(reverse("desk:wording-new-version", args=[starter.pk]))
    assert "counsel" in text_of(page)
    own = {**KIND, "title": "Our release", "text": "I agree.\r\n\r\nIn all of it."}
    desk.post(reverse("desk:wording-new-version", args=[starter.pk]), own)
    newest = wording_for("release", "narrator", "en")
    assert (newest.version, newest.title, newest.text) == (2, "Our release", "I agree.\n\nIn all of it.")
    starter.refresh_from_db()
    assert starter.version == 1
    assert "Our release" in text_of(desk.get(reverse("desk:wordings")))


def test_a_wording_in_another_language_begins_at_one(coordinator):
    own = put_into_force(**{**KIND, "language": "cy"}, title="Ein ffurflen", text="Cytunaf.", actor=coordinator)
    assert own.version == 1
    assert wording_for("release", "narrator", "cy") == own


def test_the_same_words_are_no_new_version(desk):
    starter = wording_for("release", "narrator", "en")
    same = {**KIND, "title": starter.title, "text": starter.text}
    answer = desk.post(reverse("desk:wording-new-version", args=[starter.pk]), same)
    assert "word for word" in text_of(answer)
    assert Wording.objects.filter(moment="release", role="narrator", language="en").count() == 1


def test_the_demo_offer_of_a_second_step_can_be_put_off(settings):
    settings.STAFF_SECOND_STEP = "offered"
    desk = signed_in(a_user("Ines Halloway", role="archivist", second_step=False))
    assert "Protect your account" in text_of(desk.get(reverse("desk:queue")))
    answer = desk.post(reverse("desk:second-step-not-now"), follow=True)
    assert "Protect your account" not in text_of(answer)


def test_a_collection_opened_elsewhere_counts(desk, coordinator):
    interviews.add_collection(name="Both Banks", actor=coordinator)
    lines = [line for line in still_to_do(desk.get(reverse("desk:set-up"))) if line.startswith("Open the first")]
    assert lines == []
