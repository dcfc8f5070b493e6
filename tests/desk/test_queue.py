"""The queue: what waits, for whom, longest first; and what is done to several interviews together."""

from urllib.parse import urlencode

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from intake.catalogue import headings
from intake.catalogue import services as catalogue
from intake.catalogue.complete import description_of
from intake.catalogue.services import Said
from intake.desk import queue_page
from intake.interviews.models import Interview, State
from intake.interviews.services import add_collection
from intake.queue import saved
from intake.queue import services as queue
from intake.queue.models import SavedView
from intake.workflow import submit
from tests.factories import a_part_stored, a_started_interview, an_archivist, an_interview
from tests.pages import actions_of, links_of, signed_in, text_of

pytestmark = pytest.mark.django_db
QUEUE = "/desk/"
TOGETHER = "/desk/queue/together/"


@pytest.fixture
def browser(archivist):
    return signed_in(archivist)


@pytest.fixture
def colleague():
    return an_archivist("Petra Lindqvist")


def listed(browser, **filters) -> list[Interview]:
    return [entry.interview for entry in browser.get(QUEUE, filters).context["page"].stretch.rows]


def together(browser, act: str, *interviews: Interview, **typed) -> str:
    """What the queue says after one button was pressed for some ticked interviews."""
    data = {"act": act, "chosen": [interview.pk for interview in interviews], **typed}
    return text_of(browser.post(TOGETHER, data, follow=True))


def test_the_longest_waiting_stands_first(browser):
    waiting = [an_interview(State.SUBMITTED) for _ in range(3)]
    assert listed(browser) == waiting


def test_drafts_and_what_has_ended_are_shown_only_when_asked_for(browser):
    draft, declined = an_interview(State.DRAFT), an_interview(State.DECLINED)
    assert listed(browser) == []
    assert listed(browser, state="draft") == [draft]
    assert listed(browser, state="declined") == [declined]
    assert listed(browser, words="oskarsen", order="oldest") == [draft, declined]


def test_the_list_is_filtered_by_stage_and_collection(browser, coordinator):
    other = add_collection(name="The market", actor=coordinator)
    here = an_interview(State.SUBMITTED)
    there = a_started_interview(collection=other)
    a_part_stored(there)
    submit(there.pk, actor=there.owner)
    assert listed(browser, collection=other.pk) == [there]
    assert listed(browser, collection=here.collection_id, state="submitted") == [here]
    assert listed(browser, collection=here.collection_id, state="in_review") == []


def test_the_list_is_filtered_by_reviewer(browser, archivist, colleague):
    mine, hers = an_interview(State.IN_REVIEW, reviewer=archivist), an_interview(State.IN_REVIEW, reviewer=colleague)
    nobodys = an_interview(State.SUBMITTED)
    assert listed(browser, reviewer=archivist.pk) == [mine]
    assert listed(browser, reviewer=colleague.pk) == [hers]
    assert listed(browser, reviewer="nobody") == [nobodys]


@pytest.mark.parametrize(
    "filters",
    [
        {"state": "lost"},
        {"collection": "999"},
        {"collection": "x"},
        {"standing": "fine"},
        {"restriction": "x"},
        {"waiting": "8"},
        {"reviewer": "x"},
        {"order": "x"},
        {"words": "x" * 300},
        {"after": "x"},
    ],
    ids=str,
)
def test_a_filter_that_is_none_shows_the_whole_list(browser, filters):
    waiting = an_interview(State.SUBMITTED)
    assert listed(browser, **filters) == [waiting]


def test_each_row_leads_to_its_review(browser):
    interview = an_interview(State.SUBMITTED)
    told = browser.get(QUEUE)
    assert reverse("desk:interview-detail", args=[interview.pk]) in links_of(told)
    shown = (
        interview.title,
        interview.owner.name,
        "nobody yet",
        "Submitted",
        "Not signed by everybody",
        "not measured",
    )
    for words in shown:
        assert words in text_of(told)


def test_a_long_list_is_cut_into_pages_that_keep_the_filter(browser, monkeypatch):
    monkeypatch.setattr(queue_page, "PER_PAGE", 2)
    waiting = [an_interview(State.SUBMITTED) for _ in range(3)]
    first = browser.get(QUEUE, {"state": "submitted"})
    (link,) = [link for link in links_of(first) if "after=" in link]
    assert "state=submitted" in link
    second = browser.get(QUEUE + link.replace("&amp;", "&"))
    assert [entry.interview for entry in second.context["page"].stretch.rows] == waiting[2:]
    (back,) = [link for link in links_of(second) if "before=" in link]
    assert browser.get(QUEUE + back.replace("&amp;", "&")).context["page"].stretch.rows[0].interview == waiting[0]
    assert "3 interviews" in text_of(second)


def test_an_empty_queue_says_how_to_begin(browser):
    told = browser.get(QUEUE)
    assert "Nothing here." in text_of(told)
    assert {reverse("desk:people"), reverse("desk:kits"), reverse("desk:collections")} <= links_of(told)


def test_what_is_not_found_is_not_told_as_an_empty_queue(browser):
    an_interview(State.SUBMITTED)
    assert "Nothing is found." in text_of(browser.get(QUEUE, {"words": "nobody of that name"}))


def test_the_number_of_questions_does_not_grow_with_the_list(browser):
    def asked() -> int:
        browser.get(QUEUE)  # brings the entries up to date
        with CaptureQueriesContext(connection) as captured:
            browser.get(QUEUE)
        return len(captured)

    an_interview(State.SUBMITTED)
    few = asked()
    for _ in range(4):
        an_interview(State.IN_REVIEW)
    assert asked() == few <= 24


def test_a_list_that_is_behind_says_so(browser, monkeypatch):
    monkeypatch.setattr(queue, "BEFORE_A_PAGE", 1)
    for _ in range(2):
        an_interview(State.SUBMITTED)
    assert "Much has come in at once." in text_of(browser.get(QUEUE))
    assert "Much has come in at once." not in text_of(browser.get(QUEUE))


def test_the_ready_made_views_say_how_many_there_are(browser, archivist):
    an_interview(State.IN_REVIEW, reviewer=archivist)
    an_interview(State.IN_REVIEW)
    told = text_of(browser.get(QUEUE))
    assert "My reviews 1" in told
    assert "In review 2" in told
    assert "Waiting for review 0" in told


# Views of one's own


def test_filters_are_kept_under_a_name_and_found_again(browser, archivist):
    kept = browser.post(
        reverse("desk:queue-view-save"), {"name": "Problems", "filters": "standing=problem&after=x&next=//evil.example"}
    )
    assert kept["Location"] == "/desk/?standing=problem"
    assert SavedView.objects.get().filters == "standing=problem"
    told = browser.get(QUEUE, {"standing": "problem"})
    assert "?standing=problem" in links_of(told)
    assert "Take the view “Problems” away" in text_of(told)


def test_the_same_name_keeps_the_newer_filters(archivist):
    saved.save_view(name="Mine", filters="state=draft", owner=archivist)
    saved.save_view(name="Mine", filters="state=returned", owner=archivist)
    assert [view.filters for view in archivist.saved_views.all()] == ["state=returned"]


def test_a_view_is_its_owners_alone(browser, archivist, colleague):
    hers = saved.save_view(name="Hers", filters="state=draft", owner=colleague)
    assert "Hers" not in text_of(browser.get(QUEUE))
    browser.post(reverse("desk:queue-view-delete", args=[hers.pk]))
    assert SavedView.objects.filter(pk=hers.pk).exists()
    signed_in(colleague).post(reverse("desk:queue-view-delete", args=[hers.pk]))
    assert not SavedView.objects.exists()


@pytest.mark.parametrize("name", ["", " ", "x" * 61, "a\x00b"])
def test_a_name_that_is_none_keeps_nothing(browser, name):
    told = browser.post(reverse("desk:queue-view-save"), {"name": name, "filters": "state=draft"}, follow=True)
    assert "A view needs a name" in text_of(told)
    assert not SavedView.objects.exists()


def test_there_is_an_end_to_views(browser, archivist):
    for number in range(saved.MOST):
        saved.save_view(name=str(number), filters="state=draft", owner=archivist)
    told = browser.post(reverse("desk:queue-view-save"), {"name": "one more", "filters": "state=draft"}, follow=True)
    assert "There is room for 30 views of your own." in text_of(told)


# Several together


def test_several_are_taken_up_and_asking_again_is_told_calmly(browser, archivist):
    waiting = [an_interview(State.SUBMITTED) for _ in range(2)]
    assert "You review 2 interviews now." in together(browser, "take-up", *waiting)
    assert {interview.reviewer for interview in Interview.objects.all()} == {archivist}
    assert "Yours already: 2 interviews." in together(browser, "take-up", *waiting)


def test_one_that_is_refused_does_not_hold_the_others_up(browser, archivist, colleague):
    hers, waiting = an_interview(State.IN_REVIEW, reviewer=colleague), an_interview(State.SUBMITTED)
    told = together(browser, "take-up", hers, waiting)
    assert f"You review {waiting.title} now." in told
    assert f"{hers.title}: Petra Lindqvist is reviewing this interview." in told
    waiting.refresh_from_db()
    assert waiting.reviewer == archivist


def test_several_are_handed_over_with_a_note(browser, archivist, colleague):
    mine = [an_interview(State.IN_REVIEW, reviewer=archivist) for _ in range(2)]
    told = together(browser, "hand-over", *mine, to=colleague.pk, note="I am away until Monday.")
    assert "Handed over: 2 interviews." in told
    assert {interview.reviewer for interview in Interview.objects.all()} == {colleague}
    page = signed_in(colleague).get(reverse("desk:interview-detail", args=[mine[0].pk]))
    assert "I am away until Monday." in text_of(page)


def test_several_are_left_to_somebody_else(browser, archivist):
    mine = [an_interview(State.IN_REVIEW, reviewer=archivist) for _ in range(2)]
    assert "Left to somebody else: 2 interviews." in together(browser, "put-back", *mine)
    assert {interview.state for interview in Interview.objects.all()} == {State.SUBMITTED}


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"act": "take-up"}, "Tick the interviews first."),
        ({"act": "hand-over", "chosen": "one"}, "Choose the colleague"),
        ({"act": "hand-over", "chosen": "one", "to": "999"}, "Choose one of the answers offered for “To”."),
        ({"act": "erase", "chosen": "one"}, "Choose one of the answers offered"),
        ({"act": "take-up", "chosen": "999999"}, "Choose one of the answers offered"),
    ],
)
def test_what_is_missing_is_said(browser, typed, sentence):
    interview = an_interview(State.SUBMITTED)
    if typed.get("chosen") == "one":
        typed = {**typed, "chosen": interview.pk}
    assert sentence in text_of(browser.post(TOGETHER, typed, follow=True))
    interview.refresh_from_db()
    assert interview.state == State.SUBMITTED


def test_the_list_comes_back_as_it_was_asked_for(browser):
    interview = an_interview(State.SUBMITTED)
    filters = urlencode({"words": "Marit & co", "state": "submitted", "evil": "x"})
    answer = browser.post(TOGETHER, {"act": "take-up", "chosen": interview.pk, "filters": filters})
    assert answer["Location"] == "/desk/?words=Marit+%26+co&state=submitted"


# One after the other


def test_the_next_is_ones_own_before_anybody_elses(browser, archivist, colleague):
    waiting = an_interview(State.SUBMITTED)
    assert browser.get(reverse("desk:queue-next"))["Location"] == reverse("desk:interview-detail", args=[waiting.pk])
    mine = an_interview(State.IN_REVIEW, reviewer=archivist)
    an_interview(State.IN_REVIEW, reviewer=colleague)
    assert browser.get(reverse("desk:queue-next"))["Location"] == reverse("desk:interview-detail", args=[mine.pk])


def test_when_nothing_waits_the_queue_says_so(browser):
    told = browser.get(reverse("desk:queue-next"), follow=True)
    assert "Nothing waits for review." in text_of(told)


def test_a_review_is_handed_over_from_its_page(browser, archivist, colleague):
    interview = an_interview(State.IN_REVIEW, reviewer=archivist)
    page = browser.get(reverse("desk:interview-detail", args=[interview.pk]))
    assert reverse("desk:interview-put-back", args=[interview.pk]) in actions_of(page)
    form = reverse("desk:interview-hand-over", args=[interview.pk])
    assert form in links_of(page)
    assert "Choose the colleague to whom you hand it over." in text_of(browser.post(form, {"note": "x"}))
    told = text_of(browser.post(form, {"to": colleague.pk, "note": "You know her."}, follow=True))
    assert "Petra Lindqvist reviews it now." in told


def test_a_coordinator_hands_over_what_somebody_else_reviews(coordinator, archivist):
    interview = an_interview(State.IN_REVIEW, reviewer=archivist)
    page = signed_in(coordinator).get(reverse("desk:interview-detail", args=[interview.pk]))
    assert reverse("desk:interview-hand-over", args=[interview.pk]) in links_of(page)
    assert reverse("desk:interview-put-back", args=[interview.pk]) not in actions_of(page)


def test_an_interview_is_found_by_what_its_record_says(browser, archivist):
    interview = an_interview(State.CATALOGUED, reviewer=archivist)
    an_interview(State.CATALOGUED, reviewer=archivist)
    heading = headings.add_own("Ferry bells", kind="subject", actor=archivist)
    catalogue.give_heading(interview.pk, heading=heading, use="about", actor=archivist)
    kept = description_of(interview)
    said = Said("The winter of the ice", kept.summary, kept.languages, [], kept.rights)
    catalogue.describe(interview.pk, said=said, actor=archivist)
    for words in ("bells", "winter"):
        answer = browser.get(QUEUE, {"words": words})
        assert [row.pk for row in answer.context["page"].stretch.rows] == [interview.pk]
        assert "The winter of the ice" in text_of(answer)
