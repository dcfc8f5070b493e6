"""The queue: what waits, for whom, longest first."""

import pytest
from django.urls import reverse

from intake.desk import queries
from intake.interviews.models import State
from intake.interviews.services import add_collection
from intake.workflow import submit
from tests.factories import a_part_stored, a_started_interview, an_interview
from tests.pages import links_of, signed_in, text_of

pytestmark = pytest.mark.django_db
QUEUE = "/desk/"


@pytest.fixture
def browser(archivist):
    return signed_in(archivist)


def listed(browser, **filters) -> list:
    return list(browser.get(QUEUE, filters).context["page"])


def test_the_longest_waiting_stands_first(browser):
    waiting = [an_interview(State.SUBMITTED) for _ in range(3)]
    assert listed(browser) == waiting


def test_drafts_and_what_has_ended_are_shown_only_when_asked_for(browser):
    draft, declined = an_interview(State.DRAFT), an_interview(State.DECLINED)
    assert listed(browser) == []
    assert listed(browser, state="draft") == [draft]
    assert listed(browser, state="declined") == [declined]


def test_the_list_is_filtered_by_stage_and_collection(browser, coordinator):
    other = add_collection(name="The market", actor=coordinator)
    here = an_interview(State.SUBMITTED)
    there = a_started_interview(collection=other)
    a_part_stored(there)
    submit(there.pk, actor=there.owner)
    assert listed(browser, collection=other.pk) == [there]
    assert listed(browser, collection=here.collection_id, state="submitted") == [here]
    assert listed(browser, collection=here.collection_id, state="in_review") == []


@pytest.mark.parametrize("filters", [{"state": "lost"}, {"collection": "999"}, {"collection": "x"}, {"page": "x"}])
def test_a_filter_that_is_none_shows_the_whole_list(browser, filters):
    waiting = an_interview(State.SUBMITTED)
    assert listed(browser, **filters) == [waiting]


def test_each_row_leads_to_its_review(browser):
    interview = an_interview(State.SUBMITTED)
    told = browser.get(QUEUE)
    assert reverse("desk:interview-detail", args=[interview.pk]) in links_of(told)
    for shown in (interview.title, interview.owner.name, "nobody yet", "Submitted"):
        assert shown in text_of(told)


def test_a_long_list_is_cut_into_pages_that_keep_the_filter(browser, monkeypatch):
    monkeypatch.setattr(queries, "PER_PAGE", 2)
    for _ in range(3):
        an_interview(State.SUBMITTED, parts=1)
    told = browser.get(QUEUE, {"state": "submitted"})
    assert len(told.context["page"]) == 2
    assert any("page=2" in link and "state=submitted" in link for link in links_of(told))
    assert len(listed(browser, state="submitted", page=2)) == 1


def test_an_empty_queue_says_how_to_begin(browser):
    told = browser.get(QUEUE)
    assert "Nothing here." in text_of(told)
    assert {reverse("desk:people"), reverse("desk:kits"), reverse("desk:collections")} <= links_of(told)


def test_the_number_of_questions_does_not_grow_with_the_list(browser, django_assert_max_num_queries):
    for _ in range(4):
        an_interview(State.SUBMITTED)
    with django_assert_max_num_queries(16):
        browser.get(QUEUE)
