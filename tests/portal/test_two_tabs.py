"""Two tabs, or two people, on one description: what only one changed is merged, the rest is for people to choose."""

import json
import re
from html import unescape

import pytest
from hypothesis import given
from hypothesis import strategies as st

from intake.errors import Conflict
from intake.merging import merged
from tests.factories import a_photograph, an_attachment_arriving, narrator_of
from tests.pages import text_of
from tests.portal.pages import page

pytestmark = pytest.mark.django_db


def form_on(browser, address: str) -> dict[str, str]:
    """What a browser would send back if nothing were typed."""
    form = browser.get(address).context["form"]
    return {name: str(form[name].value() or "") for name in form.fields}


def saved(interview):
    interview.refresh_from_db()
    return interview


def test_fields_that_only_one_of_them_changed_are_merged(browser, draft):
    address = page("interview-edit", draft.pk)
    first, second = form_on(browser, address), form_on(browser, address)
    browser.post(address, {**first, "place": "On board"})
    assert browser.post(address, {**second, "context_notes": "A clock ticks."}).status_code == 302
    assert (saved(draft).place, draft.context_notes) == ("On board", "A clock ticks.")


def test_a_field_that_both_changed_is_refused_with_both_versions_and_nothing_is_saved(browser, draft):
    address = page("interview-edit", draft.pk)
    first, second = form_on(browser, address), form_on(browser, address)
    browser.post(address, {**first, "summary": "The ice."})
    answer = browser.post(address, {**second, "summary": "The cable.", "context_notes": "A clock ticks."})
    assert answer.status_code == 409
    told = text_of(answer)
    assert "This was changed meanwhile, in another tab or by somebody else. Nothing is lost" in told
    assert "What it is about: two versions Saved meanwhile: The ice." in told
    assert "The cable." in told
    assert "Where you recorded: two versions" not in told
    shown = answer.context["form"]
    assert {name: str(shown[name].value()) for name in second if name != "began"} == {
        **{name: value for name, value in second.items() if name != "began"},
        "summary": "The cable.",
        "context_notes": "A clock ticks.",
    }
    assert (saved(draft).summary, draft.context_notes) == ("The ice.", "")


@pytest.mark.parametrize(("chosen", "kept"), [({}, "The cable."), ({"keep_summary": "on"}, "The ice.")])
def test_the_person_chooses_and_what_was_not_in_question_is_saved_with_it(browser, draft, chosen, kept):
    address = page("interview-edit", draft.pk)
    first, second = form_on(browser, address), form_on(browser, address)
    browser.post(address, {**first, "summary": "The ice."})
    typed = {**second, "summary": "The cable.", "context_notes": "A clock ticks."}
    answer = browser.post(address, typed)
    began = unescape(re.search(r'name="began" value="([^"]*)"', answer.content.decode()).group(1))
    assert json.loads(began)["summary"] == "The ice."
    assert browser.post(address, {**typed, "began": began, **chosen}).status_code == 302
    assert (saved(draft).summary, draft.context_notes) == (kept, "A clock ticks.")


def test_a_third_change_in_between_is_noticed_too(browser, draft):
    address = page("interview-edit", draft.pk)
    first, second = form_on(browser, address), form_on(browser, address)
    browser.post(address, {**first, "summary": "The ice."})
    answer = browser.post(address, {**second, "summary": "The cable."})
    began = answer.context["form"]["began"].value()
    browser.post(address, {**form_on(browser, address), "summary": "The toll."})
    assert browser.post(address, {**second, "summary": "The cable.", "began": began}).status_code == 409
    assert saved(draft).summary == "The toll."


def test_the_same_change_in_both_tabs_is_no_conflict(browser, draft):
    address = page("interview-edit", draft.pk)
    first, second = form_on(browser, address), form_on(browser, address)
    browser.post(address, {**first, "summary": "The ice."})
    assert browser.post(address, {**second, "summary": "The ice."}).status_code == 302


def test_line_ends_of_a_browser_are_no_change(browser, draft):
    address = page("interview-edit", draft.pk)
    browser.post(address, {**form_on(browser, address), "summary": "The ice.\r\nThe cable."})
    first, second = form_on(browser, address), form_on(browser, address)
    browser.post(address, {**first, "summary": "The toll."})
    assert browser.post(address, {**second, "summary": "The ice.\r\nThe cable."}).status_code == 302
    assert saved(draft).summary == "The toll."


def test_a_person_corrected_in_two_tabs_keeps_both(browser, draft):
    narrator = narrator_of(draft)
    address = page("person-edit", narrator.pk)
    first, second = form_on(browser, address), form_on(browser, address)
    browser.post(address, {**first, "name": "Marit Oskarsen-Vik"})
    browser.post(address, {**second, "email": "m@example.org"})
    narrator.person.refresh_from_db()
    assert (narrator.person.name, narrator.person.email) == ("Marit Oskarsen-Vik", "m@example.org")
    third = browser.post(address, {**second, "name": "Marit O."})
    assert third.status_code == 409
    assert "Name: two versions Saved meanwhile: Marit Oskarsen-Vik" in text_of(third)


def test_a_caption_corrected_in_two_tabs_keeps_both(browser, draft):
    attachment = an_attachment_arriving(draft, a_photograph())
    address = page("attachment-edit", attachment.pk)
    first, second = form_on(browser, address), form_on(browser, address)
    browser.post(address, {**first, "caption": "The porch"})
    assert browser.post(address, {**second, "kind": "other"}).status_code == 302
    attachment.refresh_from_db()
    assert (attachment.caption, attachment.kind) == ("The porch", "other")
    third = browser.post(address, {**second, "kind": "transcript", "caption": "The gate"})
    assert third.status_code == 409
    told = text_of(third)
    assert "Caption: two versions Saved meanwhile: The porch" in told
    assert "What it is: two versions Saved meanwhile: Other document" in told


@pytest.mark.parametrize(
    "began", ["", "{", "[]", "7", "null", '{"summary": 7}', '{"collection": "9223372036854775808"}', "[" * 100_000]
)
def test_a_form_that_says_nonsense_of_how_it_began_still_saves(browser, draft, began):
    address = page("interview-edit", draft.pk)
    answer = browser.post(address, {**form_on(browser, address), "place": "On board", "began": began})
    assert answer.status_code == 302
    assert saved(draft).place == "On board"


words = st.sampled_from(["a", "b", "c"])
three = st.fixed_dictionaries({"x": words, "y": words})


@given(began=three, typed=three, now=three)
def test_merging_loses_nobodys_words(began, typed, now):
    """Every change, typed or saved meanwhile, stands in the result, or there is a conflict."""
    try:
        result = merged(began, typed, now)
    except Conflict as conflict:
        for name in conflict.fields:
            assert len({began[name], typed[name], now[name]}) == 3 or (began[name] != now[name] != typed[name])
        return
    for name, value in result.items():
        assert value == typed[name] or typed[name] == began[name]
        assert value == now[name] or now[name] == began[name]
