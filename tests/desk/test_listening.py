"""The listening desk: what its script is given, what it may keep, and what is refused in a sentence."""

import gzip
import json

import pytest
from django.urls import reverse

from intake.interviews.models import Mark, State
from intake.interviews.services import parts_of
from intake.review import listening
from intake.review.models import Heard, OpeningCheck
from tests.factories import a_clipped_wav, an_archivist, an_interview, run_jobs
from tests.pages import actions_of, signed_in, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def browser(archivist):
    return signed_in(archivist)


@pytest.fixture
def interview(archivist):
    made = an_interview(State.IN_REVIEW, reviewer=archivist, parts=2, content=a_clipped_wav())
    run_jobs()
    return made


def page(browser, interview):
    return browser.get(reverse("desk:interview-detail", args=[interview.pk]))


def desk_of(browser, interview) -> dict:
    return page(browser, interview).context["page"].desk.told


def by_script(browser, archivist, url: str, data: dict):
    return browser.post(url, data, headers={"X-Account": str(archivist.pk)})


def test_all_parts_stand_on_one_axis_with_what_was_found(browser, interview):
    told = desk_of(browser, interview)
    assert [part["label"] for part in told["parts"]] == ["Part 1", "Part 2"]
    assert {flag["part"] for flag in told["flags"]} == {part["id"] for part in told["parts"]}
    assert all(part["picture"] and part["seconds"] > 0 and part["channels"] == 1 for part in told["parts"])


def test_nothing_is_drawn_before_there_is_something_to_hear(browser, archivist):
    interview = an_interview(State.IN_REVIEW, reviewer=archivist)
    assert page(browser, interview).context["page"].desk is None


def test_a_part_is_heard_before_its_picture_is_drawn(browser, archivist):
    interview = an_interview(State.IN_REVIEW, reviewer=archivist)
    run_jobs("measure-part", "make-listening-copy")
    assert [part["picture"] for part in desk_of(browser, interview)["parts"]] == [""]


def test_the_picture_is_read_tile_by_tile(browser, interview):
    part = parts_of(interview)[0]
    index = browser.get(reverse("desk:part-picture", args=[part.pk])).json()
    assert index["levels"] == [1]
    answer = browser.get(reverse("desk:part-picture-tile", args=[part.pk, 0, 0]))
    assert (answer["Content-Encoding"], answer["Cache-Control"]) == ("gzip", "private, no-store")
    raw = gzip.decompress(answer.content)
    assert len(raw) % (index["channels"] * index["pairs"] * 2 + index["rows"] + 2) == 0
    for level, number in ((0, 1), (1, 0), (99, 99)):
        assert browser.get(reverse("desk:part-picture-tile", args=[part.pk, level, number])).status_code == 404


def test_a_note_is_kept_and_listed(browser, archivist, interview):
    part = parts_of(interview)[1]
    url = reverse("desk:part-marks", args=[part.pk])
    answer = by_script(browser, archivist, url, {"kind": "spelling", "at_seconds": "0.25", "note": "Aas, two a"})
    assert answer.json()["label"] == "Spelling"
    shown = page(browser, interview)
    assert "Spelling: Aas, two a" in text_of(shown)
    assert reverse("desk:mark-remove", args=[answer.json()["id"]]) in actions_of(shown)
    browser.post(reverse("desk:mark-remove", args=[answer.json()["id"]]))
    assert "Aas, two a" not in text_of(page(browser, interview)).partition("What happened")[0]


def test_staffs_notes_stay_with_staff(interview, archivist):
    part = parts_of(interview)[0]
    listening.set_mark(part.pk, kind="off-the-record", at_seconds=0.1, note="About her brother.", actor=archivist)
    listen = signed_in(interview.owner).get(reverse("portal:interview-detail", args=[interview.pk]))
    assert "About her brother." not in text_of(listen)
    part_page = signed_in(interview.owner).get(reverse("portal:part-detail", args=[part.pk]))
    assert "About her brother." not in text_of(part_page)


@pytest.mark.parametrize(
    "data",
    [
        {},
        {"kind": "note"},
        {"kind": "x", "at_seconds": "1"},
        {"kind": "note", "at_seconds": "-1"},
        {"kind": "note", "at_seconds": "nan"},
        {"kind": "note", "at_seconds": "1e99"},
        {"kind": "note", "at_seconds": "1", "note": "x" * 2001},
        {"kind": "note", "at_seconds": "1", "note": "a\x00b"},
        {"kind": "recorder", "at_seconds": "1"},
    ],
    ids=str,
)
def test_a_note_that_is_none_is_refused_in_a_sentence(browser, archivist, interview, data):
    url = reverse("desk:part-marks", args=[parts_of(interview)[0].pk])
    answer = by_script(browser, archivist, url, data)
    assert (answer.status_code, answer["Content-Type"]) == (422, "text/plain; charset=utf-8")
    assert answer.content.decode().strip().endswith(".")
    assert not Mark.objects.exists()


def test_what_was_heard_is_kept_for_whoever_heard_it(browser, archivist, interview):
    part = parts_of(interview)[0]
    url = reverse("desk:part-heard", args=[part.pk])
    assert by_script(browser, archivist, url, {"spans": "[[0, 0.1]]"}).json() == {"spans": [[0.0, 0.1]]}
    assert desk_of(browser, interview)["heard"][part.pk] == [[0.0, 0.1]]
    assert desk_of(signed_in(an_archivist("Petra")), interview)["heard"][part.pk] == []


@pytest.mark.parametrize(
    "spans",
    ["", "x", "[1]", "[[1]]", "[[2,1]]", "[[-1,1]]", "[[0,1e99]]", '[["a","b"]]', "[[NaN,1]]", "[" * 9999],
)
def test_what_cannot_be_heard_is_refused(browser, archivist, interview, spans):
    answer = by_script(
        browser, archivist, reverse("desk:part-heard", args=[parts_of(interview)[0].pk]), {"spans": spans}
    )
    assert (answer.status_code, answer.content) == (422, b"These are no stretches of a recording.\n")
    assert not Heard.objects.exists()


def test_a_script_keeps_nothing_in_the_name_of_somebody_else(browser, interview, coordinator):
    """The page was drawn for one person, and another has signed in in this browser since."""
    url = reverse("desk:part-heard", args=[parts_of(interview)[0].pk])
    answer = by_script(browser, coordinator, url, {"spans": "[[0, 0.1]]"})
    assert (answer.status_code, answer["X-Account-Differs"]) == (412, "yes")
    assert not Heard.objects.exists()


def test_the_opening_is_checked_by_script_and_by_button(browser, archivist, interview):
    url = reverse("desk:interview-opening", args=[interview.pk])
    assert by_script(browser, archivist, url, {"item": "day", "verdict": "heard"}).status_code == 204
    browser.post(url, {"item": "place", "verdict": "not-said", "note": ""})
    assert dict(OpeningCheck.objects.values_list("item", "verdict")) == {"day": "heard", "place": "not-said"}
    told = by_script(browser, archivist, url, {"item": "day", "verdict": ""})
    assert (told.status_code, told.content) == (
        422,
        b"Choose whether it was heard; a note has at most 300 characters.\n",
    )


def test_an_answer_is_kept_by_script(browser, archivist, interview):
    part = parts_of(interview)[0]
    problem = page(browser, interview).context["page"].parts[0].problems[0]
    data = {"code": problem.finding["code"], "channel": problem.channel, "kind": "ask", "answer": "Which recorder?"}
    url = reverse("desk:part-answer", args=[part.pk])
    assert by_script(browser, archivist, url, data).status_code == 204
    assert by_script(browser, archivist, url, {**data, "answer": " "}).status_code == 422
    assert page(browser, interview).context["page"].parts[0].problems[0].answer.answer == "Which recorder?"


def test_what_the_script_is_given_is_plain_data(browser, interview):
    assert json.loads(json.dumps(desk_of(browser, interview)))["parts"]
