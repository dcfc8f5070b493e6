"""Records of persons at the desk: likely twins side by side, and making them one."""

import pytest
from django.urls import reverse
from django.utils import formats

from intake.people import services as people
from tests.factories import a_release_on_paper, a_signed_release, a_started_interview, narrator_of
from tests.pages import actions_of, links_of, signed_in, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def browser(archivist):
    return signed_in(archivist)


@pytest.fixture
def pair(archivist):
    """The narrator of an interview, and the same name noted again."""
    first = narrator_of(a_started_interview()).person
    return first, people.note_person(name="marit oskarsen", email="", actor=archivist)


def persons() -> str:
    return reverse("desk:persons")


def merge_page(twin, stays) -> str:
    return f"{reverse('desk:person-merge', args=[twin.pk])}?into={stays.pk}"


def test_likely_twins_are_listed_with_a_way_to_compare_them(browser, pair):
    first, again = pair
    assert persons() in links_of(browser.get(reverse("desk:people")))
    assert merge_page(again, first) in links_of(browser.get(persons()))


def test_without_twins_the_page_says_so(browser):
    assert "No two records share a name or an e-mail address." in text_of(browser.get(persons()))


def test_both_are_shown_before_anything_is_decided(browser, pair):
    first, again = pair
    release = a_signed_release(first.participations.get())
    shown = browser.get(merge_page(again, first))
    told = text_of(shown)
    for said in ("This record is merged", "marit oskarsen", "This record stays", release.number, "marit@example.org"):
        assert said in told
    assert merge_page(first, again) in links_of(shown)


def test_a_release_signed_on_paper_is_shown_with_its_day(browser, pair):
    first, again = pair
    release = a_release_on_paper(first.participations.get())
    told = text_of(browser.get(merge_page(again, first)))
    assert f"{release.number}, signed {formats.date_format(release.signed_on)} as Marit Oskarsen" in told


def test_two_records_are_made_one(browser, pair):
    first, again = pair
    told = browser.post(reverse("desk:person-merge", args=[again.pk]), {"into": first.pk}, follow=True)
    assert "marit oskarsen is now one record with Marit Oskarsen." in text_of(told)
    again.refresh_from_db()
    assert again.merged_into == first
    assert browser.get(merge_page(again, first)).status_code == 404


def test_what_stands_against_it_is_told_and_no_button_shown(browser, volunteer, other_volunteer):
    one, other = people.person_of(volunteer), people.person_of(other_volunteer)
    shown = browser.get(merge_page(one, other))
    assert "Both have accounts" in text_of(shown)
    assert reverse("desk:person-merge", args=[one.pk]) not in actions_of(shown)
    told = browser.post(reverse("desk:person-merge", args=[one.pk]), {"into": other.pk}, follow=True)
    assert "Both have accounts" in text_of(told)


def test_a_record_that_only_a_person_can_tell_is_found_by_hand(browser, pair, archivist):
    first, _ = pair
    other = people.note_person(name="Mrs. O.", email="", actor=archivist)
    found = browser.get(persons(), {"q": "mrs"})
    assert reverse("desk:person-merge", args=[other.pk]) in links_of(found)
    chosen = browser.get(reverse("desk:person-merge", args=[other.pk]), {"q": "Oskarsen"})
    assert merge_page(other, first) in links_of(chosen)
