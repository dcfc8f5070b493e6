"""Forms refuse in sentences that name the field, keep what was typed, and never break on what comes in."""

import re
from datetime import date

import pytest
from django import forms
from django.test import Client
from django.urls import reverse

from intake.desk import forms as desk
from intake.narrator import forms as narrator
from intake.portal import forms as portal
from intake.web import account_forms
from intake.web.forms import Form, PlainWords
from tests.factories import a_collection, a_started_interview
from tests.pages import signed_in, text_of
from tests.portal.pages import TYPED, page

pytestmark = pytest.mark.django_db
# Django's own words, as its English source has them (5.2).
DJANGOS = re.compile(
    "This field is required|Enter a valid|Ensure this value|Select a valid choice|Null characters|Enter a whole"
)


class Every(Form):
    """One field of each kind."""

    words = forms.CharField(label="Your words", max_length=5)
    day = forms.DateField(label="Day")
    email = forms.EmailField(label="E-mail address")
    choice = forms.ChoiceField(label="Kind", choices=[("a", "A")])
    number = forms.IntegerField(label="How many")
    tick = forms.BooleanField(label="I agree")
    several = forms.MultipleChoiceField(label="Some of 100 % of them", choices=[("a", "A")], required=False)


def told(form: forms.BaseForm) -> dict[str, list[str]]:
    return {name: list(errors) for name, errors in form.errors.items()}


def test_what_is_empty_is_asked_for_by_name():
    assert told(Every({})) == {
        "words": ["Fill in “Your words”."],
        "day": ["Fill in “Day”."],
        "email": ["Fill in “E-mail address”."],
        "choice": ["Choose an answer for “Kind”."],
        "number": ["Fill in “How many”."],
        "tick": ["Tick “I agree” to go on."],
    }


def test_what_is_wrong_is_told_by_name():
    typed = {
        "words": "too many",
        "day": "2026-02-29",
        "email": "marit at home",
        "choice": "b",
        "number": "many",
        "tick": "on",
        "several": ["b"],
    }
    assert told(Every(typed)) == {
        "words": ["“Your words” is too long: it has 8 characters, and there is room for 5."],
        "day": ["“Day” is not a day of the calendar. Write it as year, month, day, such as 2026-03-14."],
        "email": ["“E-mail address” is not an e-mail address. It looks like marit@example.org."],
        "choice": ["Choose one of the answers offered for “Kind”."],
        "number": ["“How many” must be a whole number."],
        "several": ["Choose one of the answers offered for “Some of 100 % of them”."],
    }


def test_a_character_that_no_database_keeps_is_told():
    assert told(Every({"words": "a\0b"}))["words"] == [
        "“Your words” holds a character that cannot be kept. Type it anew."
    ]


def test_line_ends_are_of_one_kind():
    form = Every({"words": "a\r\nb"})
    form.is_valid()
    assert form.cleaned_data["words"] == "a\nb"


def every_form() -> list[type[forms.BaseForm]]:
    found = {
        thing
        for module in (desk, narrator, portal, account_forms)
        for thing in vars(module).values()
        if isinstance(thing, type) and issubclass(thing, forms.BaseForm) and thing.__module__ == module.__name__
    }
    return sorted(found, key=lambda form: form.__name__)


@pytest.mark.parametrize("form", every_form(), ids=lambda form: form.__name__)
def test_every_form_of_the_house_speaks_plainly(form):
    assert issubclass(form, PlainWords)


@pytest.mark.parametrize(
    "bad", ["", "\0", "x" * 6000, "2026-02-29", "no@where@at.all"], ids=["empty", "null", "long", "day", "mail"]
)
def test_no_page_shows_djangos_own_words(volunteer, archivist, bad):
    interview = a_started_interview(volunteer)
    addresses = [page("interview-start"), page("person-add", interview.pk), page("interview-withdraw", interview.pk)]
    desks = [reverse(f"desk:{name}") for name in ("people", "kits", "collections")]
    typed = dict.fromkeys([*TYPED, "collection", "name", "email", "role", "reason", "number", "contents"], bad)
    for who, address in [(volunteer, one) for one in addresses] + [(archivist, one) for one in desks]:
        answer = signed_in(who).post(address, typed, follow=True)
        assert answer.status_code == 200, address
        assert not DJANGOS.search(text_of(answer)), address
    signing_in = Client().post(reverse("account_login"), {"login": bad, "password": ""})
    assert "Write your password." in text_of(signing_in)
    assert not DJANGOS.search(text_of(signing_in))


def test_what_was_typed_stands_in_the_form_that_is_shown_again(volunteer):
    answer = signed_in(volunteer).post(page("interview-start"), {**TYPED, "place": "", "summary": "A long story."})
    told = text_of(answer)
    assert "Write where the interview was recorded." in told
    assert "A long story." in answer.content.decode()


@pytest.mark.parametrize(
    ("day", "sentence"),
    [
        ("1876-12-31", "Nothing was recorded that long ago."),
        ("2999-01-01", "The day of the interview lies in the future."),
        ("9999-12-31", "The day of the interview lies in the future."),
        ("0001-01-01", "Nothing was recorded that long ago."),
        ("2026-02-29", "is not a day of the calendar"),
        ("2026-13-01", "is not a day of the calendar"),
        ("99999-01-01", "is not a day of the calendar"),
        ("yesterday", "is not a day of the calendar"),
    ],
)
def test_impossible_days_are_told(volunteer, day, sentence):
    typed = {**TYPED, "collection": a_collection().pk, "recorded_on": day}
    assert sentence in text_of(signed_in(volunteer).post(page("interview-start"), typed))


def test_the_29th_of_february_is_a_day_in_a_leap_year(volunteer):
    typed = {**TYPED, "collection": a_collection().pk, "recorded_on": "2024-02-29"}
    signed_in(volunteer).post(page("interview-start"), typed)
    assert volunteer.interviews.get().recorded_on == date(2024, 2, 29)


@pytest.mark.parametrize("zone", ["Europe/London", "Africa/Cairo", "Pacific/Apia", "America/Sao_Paulo"])
def test_the_days_on_which_clocks_change_are_days(volunteer, settings, zone):
    """Cairo changes at midnight (from memory): that day has no 0:00."""
    settings.TIME_ZONE = zone
    browser = signed_in(volunteer)
    for day in ("2026-03-29", "2026-04-24", "2025-10-26", "2018-11-04"):
        browser.post(page("interview-start"), {**TYPED, "collection": a_collection().pk, "recorded_on": day})
    assert volunteer.interviews.count() == 4
    assert browser.get(page("home")).status_code == 200


def test_too_much_for_one_form_is_413_in_plain_words(volunteer):
    interview = a_started_interview(volunteer)
    answer = signed_in(volunteer).post(page("interview-edit", interview.pk), {**TYPED, "summary": "x" * 10_000_000})
    assert answer.status_code == 413
    assert "That is too much for one form" in text_of(answer)
    assert "Nothing was saved." in text_of(answer)


def test_more_fields_than_any_form_has_is_400_in_plain_words(volunteer):
    answer = signed_in(volunteer).post(page("interview-start"), {f"field-{number}": "" for number in range(1500)})
    assert answer.status_code == 400
    assert "This could not be read" in text_of(answer)


def test_another_host_is_400_in_plain_words():
    answer = Client().get("/account/login/", headers={"Host": "elsewhere.example.org"})
    assert answer.status_code == 400
    assert "This could not be read" in text_of(answer)


def test_a_broken_multipart_body_is_400_in_plain_words(volunteer):
    answer = signed_in(volunteer).generic("POST", page("interview-start"), b"--x", "multipart/form-data; boundary=")
    assert answer.status_code == 400
    assert "This could not be read" in text_of(answer)


def test_half_a_character_is_kept_as_a_sign_that_stands_for_it(volunteer):
    """A surrogate alone is no UTF-8 (RFC 3629, section 3): it becomes U+FFFD, not an error."""
    interview = a_started_interview(volunteer)
    body = "place=a%ED%A0%80b&recorded_on=2026-03-14&language=en&collection=" + str(interview.collection_id)
    answer = signed_in(volunteer).generic(
        "POST", page("interview-edit", interview.pk), body, "application/x-www-form-urlencoded"
    )
    assert answer.status_code == 302
    interview.refresh_from_db()
    assert interview.place.startswith("a\ufffd")
